package scan

import (
	"bytes"
	"path"
	"strings"
	"unicode/utf8"
)

// kind is what the first bytes of a file say it is.
type kind int

const (
	kindUnknown kind = iota
	kindEmpty
	kindText
	kindTIFF
	kindPNG
	kindJPEG
	kindDICOM
	kindZip
	kindForeign // a format with a name, see foreignName
)

func (k kind) String() string {
	return [...]string{"unknown", "empty", "text", "TIFF", "PNG", "JPEG", "DICOM", "zip", "foreign"}[k]
}

// isSlice reports whether files of the kind carry slices.
func (k kind) isSlice() bool {
	return k == kindTIFF || k == kindPNG || k == kindJPEG || k == kindDICOM
}

// headBytes is how much of a file kindOf looks at.
const headBytes = 1024

// kindOf decides by content. DICOM comes first, because its preamble of 128
// bytes is free and may hold the head of a TIFF (PS3.10 section 7.1).
func kindOf(head []byte) kind {
	switch {
	case len(head) == 0:
		return kindEmpty
	case len(head) >= 132 && string(head[128:132]) == "DICM":
		return kindDICOM
	case hasAnyPrefix(head, "II*\x00", "MM\x00*", "II+\x00", "MM\x00+"):
		return kindTIFF
	case hasAnyPrefix(head, "\x89PNG\r\n\x1a\n"):
		return kindPNG
	case hasAnyPrefix(head, "\xff\xd8\xff"):
		return kindJPEG
	case hasAnyPrefix(head, "PK\x03\x04", "PK\x05\x06", "PK\x07\x08"):
		return kindZip
	case foreignName(head) != "":
		return kindForeign
	case isText(head):
		return kindText
	}
	return kindUnknown
}

func hasAnyPrefix(head []byte, prefixes ...string) bool {
	for _, p := range prefixes {
		if bytes.HasPrefix(head, []byte(p)) {
			return true
		}
	}
	return false
}

// foreignName names formats people try that this package does not read, so that
// the fault can say what the file is.
func foreignName(head []byte) string {
	for _, f := range []struct{ magic, name string }{
		{"GIF8", "a GIF picture"},
		{"BM", "a BMP picture"},
		{"%PDF", "a PDF document"},
		{"\x1f\x8b", "a gzip archive"},
		{"7z\xbc\xaf\x27\x1c", "a 7z archive"},
		{"Rar!", "a RAR archive"},
		{"\x00\x00\x00\x0cjP  ", "a JPEG 2000 picture"},
		{"\xff\x4f\xff\x51", "a JPEG 2000 codestream"},
		{"\x89HDF\r\n\x1a\n", "an HDF5 file"},
		{"\x1aE\xdf\xa3", "a film"},
	} {
		if bytes.HasPrefix(head, []byte(f.magic)) && (f.magic != "BM" || !isText(head)) {
			return f.name
		}
	}
	switch {
	case len(head) >= 12 && string(head[:4]) == "RIFF" && string(head[8:12]) == "WEBP":
		return "a WebP picture"
	case len(head) >= 12 && string(head[:4]) == "RIFF", len(head) >= 8 && string(head[4:8]) == "ftyp":
		return "a film"
	case len(head) >= 262 && string(head[257:262]) == "ustar":
		return "a tar archive"
	}
	return ""
}

// isText reports whether head reads as text: UTF-8 (the last rune may be cut)
// without control characters other than white space.
func isText(head []byte) bool {
	for len(head) > 0 {
		r, n := utf8.DecodeRune(head)
		if r == utf8.RuneError && n == 1 {
			return len(head) < utf8.UTFMax && !utf8.FullRune(head)
		}
		if r < ' ' && !strings.ContainsRune("\t\r\n\f", r) {
			return false
		}
		head = head[n:]
	}
	return true
}

// extensionKind is the kind a file's name promises, kindUnknown for none.
func extensionKind(name string) kind {
	switch strings.ToLower(path.Ext(name)) {
	case ".tif", ".tiff":
		return kindTIFF
	case ".png":
		return kindPNG
	case ".jpg", ".jpeg":
		return kindJPEG
	case ".dcm", ".dicom":
		return kindDICOM
	case ".zip":
		return kindZip
	}
	return kindUnknown
}
