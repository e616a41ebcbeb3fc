package intake

import (
	"bytes"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"limitans/eye"
	"limitans/internal/exchange/dicom"
	"limitans/internal/record"
	"limitans/internal/work"
)

// most is the memory that keeping one file may take, whatever its size.
const most = 200 << 20

// peakOf runs do and returns the largest heap in use that was seen meanwhile,
// in bytes.
func peakOf(do func()) uint64 {
	runtime.GC()
	var peak atomic.Uint64
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		var m runtime.MemStats
		for {
			if runtime.ReadMemStats(&m); m.HeapInuse > peak.Load() {
				peak.Store(m.HeapInuse)
			}
			select {
			case <-stop:
				return
			case <-time.After(20 * time.Millisecond):
			}
		}
	}()
	do()
	close(stop)
	<-done
	return peak.Load()
}

// TestFilmOfAGibibyte: a film of 1 GiB comes through the whole path, from the
// reader to the committed noun, in less than 200 MiB.
func TestFilmOfAGibibyte(t *testing.T) {
	if testing.Short() {
		t.Skip("long: runs in the full run of scripts/test, without the race detector")
	}
	f := inFolder(t)
	const size = 1 << 30
	var kept Kept
	peak := peakOf(func() {
		kept = f.keep(Request{
			Kind: record.KindFilm, Name: "clip.mp4", EyeID: f.right.ID, Taken: record.Date{Year: 2026, Month: 11, Day: 20},
			Content: io.LimitReader(rand.NewChaCha8([32]byte{'f', 'i', 'l', 'm'}), size),
		})
	})
	t.Logf("a film of %d MiB: heap at most %d MiB", size>>20, peak>>20)
	if peak > most || kept.File.Bytes != size {
		t.Errorf("heap %d MiB, %d bytes kept", peak>>20, kept.File.Bytes)
	}
}

// TestScanOfAGibibyte: a scan too large to look at is kept by its header in
// less than 200 MiB, with its side compared.
func TestScanOfAGibibyte(t *testing.T) {
	if testing.Short() {
		t.Skip("long: runs in the full run of scripts/test, without the race detector")
	}
	f := inFolder(t)
	object := rightScan(t)
	// The pixel data is the last element; its length stands before it.
	pixels := drawnSlices * drawnRows * drawnColumns
	const size = 1 << 30
	length := uint32(size)
	head := append([]byte(nil), object[:len(object)-pixels-4]...)
	head = append(head, byte(length), byte(length>>8), byte(length>>16), byte(length>>24))
	content := func() io.Reader {
		return io.MultiReader(bytes.NewReader(head), io.LimitReader(zeros{}, size))
	}
	var kept Kept
	peak := peakOf(func() {
		r := f.scanOf(nil, "large.dcm")
		r.Content = content()
		kept = f.keep(r)
	})
	t.Logf("a scan of %d MiB: heap at most %d MiB", size>>20, peak>>20)
	noun := f.course(f.right.ID).Scans[0]
	if peak > most || kept.File.Bytes != size+int64(len(head)) || noun.Slices != 0 || noun.SideSources[1].Side != eye.Right {
		t.Errorf("heap %d MiB, %+v, %+v", peak>>20, kept, noun)
	}
	// Nobody needs it measured.
	if _, err := f.queue.Cancel(t.Context(), kept.JobID); err != nil {
		t.Error(err)
	}
	if jobs, err := f.queue.List(t.Context(), work.Filter{}); err != nil || jobs[0].State != work.Cancelled {
		t.Errorf("%v, %v", jobs, err)
	}
}

// TestLargestGlance: the largest scan whose pixels are looked at while it is
// kept stays below the limit too.
func TestLargestGlance(t *testing.T) {
	if testing.Short() {
		t.Skip("long: runs in the full run of scripts/test, without the race detector")
	}
	f := inFolder(t)
	path := filepath.Join(t.TempDir(), "largest.dcm")
	writeLargest(t, path)
	var kept Kept
	peak := peakOf(func() {
		file, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		defer file.Close()
		r := f.scanOf(nil, "largest.dcm")
		r.Content = file
		kept = f.keep(r)
	})
	t.Logf("a scan of %d samples: heap at most %d MiB", glanceLimits.Samples, peak>>20)
	if noun := f.course(f.right.ID).Scans[0]; peak > most || noun.Slices == 0 {
		t.Errorf("heap %d MiB, %d slices, %q", peak>>20, noun.Slices, kept.Notes)
	}
}

// writeLargest writes a DICOM object with as many samples as a glance takes.
func writeLargest(t *testing.T, path string) {
	v := drawing(t, eye.Right, 0)
	v.Slices, v.Rows, v.Columns = 24, 1024, 1024
	v.Samples = make([]uint16, glanceLimits.Samples)
	for i := range v.Samples {
		v.Samples[i] = uint16(i % 251)
	}
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := dicom.WriteOphthalmicTomography(file, v, dicom.OphthalmicMeta{Seed: "largest", At: now, Model: "Invented tomograph"}); err != nil {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
}

// zeros gives zeros without end.
type zeros struct{}

// Read fills p with zeros.
func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }
