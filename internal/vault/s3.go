package vault

import (
	"bytes"
	"context"
	"crypto/md5"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"io"
	"net/http"
	"strings"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"

	"limitans/fault"
)

// The environment variables with what opens the object store.
const (
	s3KeyVariable    = "LIMITANS_S3_KEY"
	s3SecretVariable = "LIMITANS_S3_SECRET"
	s3TokenVariable  = "LIMITANS_S3_TOKEN" // only for keys that are lent for a time
)

// s3Retries is how often a request is tried; between the tries the client waits
// longer and longer, up to a second.
const s3Retries = 5

// objectStore is a backend on an S3-compatible server.
type objectStore struct {
	core    *minio.Core
	address s3Address
	secrets []string // never to be printed
}

func newObjectStore(address s3Address, getenv func(string) string) (*objectStore, error) {
	key, secret, token := getenv(s3KeyVariable), getenv(s3SecretVariable), getenv(s3TokenVariable)
	if key == "" || secret == "" {
		return nil, &fault.Error{
			Code: fault.Invalid, Where: address.String(), What: "there is nothing to log in with",
			Mend: "set " + s3KeyVariable + " and " + s3SecretVariable + " in the environment",
		}
	}
	s := &objectStore{address: address, secrets: []string{key, secret}}
	if token != "" {
		s.secrets = append(s.secrets, token)
	}
	lookup := minio.BucketLookupPath // what stores outside the large clouds understand
	if address.endpoint == "s3.amazonaws.com" {
		lookup = minio.BucketLookupAuto
	}
	core, err := minio.NewCore(address.endpoint, &minio.Options{
		Creds: credentials.NewStaticV4(key, secret, token), Secure: address.secure, Region: address.region,
		BucketLookup: lookup, MaxRetries: s3Retries,
	})
	if err != nil {
		return nil, s.fault(address.String(), err)
	}
	s.core = core
	return s, nil
}

func (s *objectStore) where(name string) string { return s.address.String() + "/" + name }

// key is the name in the bucket.
func (s *objectStore) key(name string) string {
	if s.address.prefix == "" {
		return name
	}
	return s.address.prefix + "/" + name
}

func (s *objectStore) get(ctx context.Context, name string, limit int64) ([]byte, error) {
	body, info, _, err := s.core.GetObject(ctx, s.address.bucket, s.key(name), minio.GetObjectOptions{})
	if err != nil {
		return nil, s.fault(s.where(name), err)
	}
	defer body.Close()
	if info.Size > limit {
		return nil, &fault.Error{Code: fault.TooLarge, Where: s.where(name), What: "it is longer than any of its kind"}
	}
	data, err := io.ReadAll(io.LimitReader(body, limit+1))
	if err != nil {
		return nil, s.fault(s.where(name), err)
	}
	if info.Size >= 0 && int64(len(data)) != info.Size {
		return nil, s.fault(s.where(name), io.ErrUnexpectedEOF)
	}
	return data, nil
}

// put sends MD5 and SHA-256 along, the latter signed, so that the store refuses
// what changed on its way. DisableContentSha256 is about hashing while sending;
// the whole is in memory, so its hash is known before.
func (s *objectStore) put(ctx context.Context, name string, data []byte) error {
	_, err := s.core.PutObject(ctx, s.address.bucket, s.key(name), bytes.NewReader(data), int64(len(data)),
		md5Of(data), sha256Of(data), minio.PutObjectOptions{
			ContentType: "application/octet-stream", DisableMultipart: true, DisableContentSha256: true,
		})
	if err != nil {
		return s.fault(s.where(name), err)
	}
	return nil
}

// md5Of is the Content-MD5 header (RFC 1864), which every store checks.
func md5Of(data []byte) string {
	sum := md5.Sum(data)
	return base64.StdEncoding.EncodeToString(sum[:])
}

func sha256Of(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func (s *objectStore) store(ctx context.Context, id, _ string, data []byte) (string, error) {
	return s3Location(id), s.put(ctx, s3Location(id), data)
}

// s3Location is where an upload's bytes are in the end.
func s3Location(id string) string { return "content/" + id }

// s3Blob fetches ranges.
type s3Blob struct {
	s    *objectStore
	name string
	size int64
}

func (s *objectStore) open(ctx context.Context, name string) (blob, error) {
	info, err := s.core.StatObject(ctx, s.address.bucket, s.key(name), minio.StatObjectOptions{})
	if err != nil {
		return nil, s.fault(s.where(name), err)
	}
	return &s3Blob{s, name, info.Size}, nil
}

func (b *s3Blob) Size() int64  { return b.size }
func (b *s3Blob) Close() error { return nil }

func (b *s3Blob) ReadAt(ctx context.Context, p []byte, offset int64) error {
	if len(p) == 0 {
		return nil
	}
	where := b.s.where(b.name)
	if offset < 0 || offset+int64(len(p)) > b.size {
		return &fault.Error{Code: fault.Malformed, Where: where, What: "it is cut short", Expected: "it as it was written", Cause: io.ErrUnexpectedEOF}
	}
	var options minio.GetObjectOptions
	if err := options.SetRange(offset, offset+int64(len(p))-1); err != nil {
		return b.s.fault(where, err)
	}
	var err error
	// The library repeats requests, but not a body that breaks off in the middle.
	for try := 0; try < s3Retries; try++ {
		var body io.ReadCloser
		if body, _, _, err = b.s.core.GetObject(ctx, b.s.address.bucket, b.s.key(b.name), options); err != nil {
			break
		}
		_, err = io.ReadFull(body, p)
		_ = body.Close()
		if err == nil || ctx.Err() != nil {
			break
		}
	}
	if err != nil {
		return b.s.fault(where, err)
	}
	return nil
}

func (s *objectStore) list(ctx context.Context, prefix string, each func(name string, size int64) error) error {
	return s.objects(ctx, prefix, func(name string, info minio.ObjectInfo) error { return each(name, info.Size) })
}

func (s *objectStore) objects(ctx context.Context, prefix string, each func(name string, info minio.ObjectInfo) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel() // ends the listing when each fails
	for info := range s.core.Client.ListObjects(ctx, s.address.bucket, minio.ListObjectsOptions{Prefix: s.key(prefix), Recursive: true}) {
		if info.Err != nil {
			return s.fault(s.where(prefix), info.Err)
		}
		if err := each(strings.TrimPrefix(info.Key, s.key("")), info); err != nil {
			return err
		}
	}
	if err := ctx.Err(); err != nil {
		return stopped(s.where(prefix), err)
	}
	return nil
}

// fault words an error of the store. Its text is the code that the protocol
// defines, and nothing of what the server or the library says besides.
func (s *objectStore) fault(where string, err error) error {
	if isStopped(err) {
		return stopped(where, err)
	}
	var response minio.ErrorResponse
	code := ""
	if errors.As(err, &response) {
		code = response.Code
	}
	cause := s.scrubbed(err)
	switch code {
	case "NoSuchKey", "NoSuchUpload", "NoSuchBucket":
		f := &fault.Error{Code: fault.NotFound, Where: where, What: "it is not there", Cause: cause}
		if code == "NoSuchBucket" {
			f.What, f.Mend = "the bucket "+s.address.bucket+" is not there", "make it, or correct the address"
		}
		return f
	case "AccessDenied", "InvalidAccessKeyId", "SignatureDoesNotMatch", "ExpiredToken", "InvalidToken":
		return &fault.Error{
			Code: fault.Invalid, Where: where, What: "the object store refuses access (" + code + ")",
			Mend: "check " + s3KeyVariable + " and " + s3SecretVariable + " and what they may do in this bucket", Cause: cause,
		}
	case "InvalidPart", "InvalidPartOrder":
		return &fault.Error{
			Code: fault.Conflict, Where: where, What: "the parts of this upload are not those that were sent: it went on somewhere else",
			Mend: "store the file again", Cause: cause,
		}
	case "QuotaExceeded", "XMinioStorageFull", "XMinioAdminBucketQuotaExceeded", "InsufficientStorage":
		return &fault.Error{
			Code: fault.NoSpace, Where: where, What: "the object store is full; nothing that was stored is changed",
			Mend: "make room and try again", Cause: cause,
		}
	}
	what := "the object store cannot be reached, or broke off"
	if response.StatusCode == http.StatusNotFound {
		return &fault.Error{Code: fault.NotFound, Where: where, What: "it is not there", Cause: cause}
	}
	if code != "" {
		what = "the object store answers " + code
	}
	return &fault.Error{Code: fault.Internal, Where: where, What: what, Mend: "try again when it answers", Cause: cause}
}

// scrubbedError is the text of an error without secrets.
type scrubbedError string

func (e scrubbedError) Error() string { return string(e) }

func (s *objectStore) scrubbed(err error) error {
	text := err.Error()
	for _, secret := range s.secrets {
		text = strings.ReplaceAll(text, secret, "…")
	}
	return scrubbedError(text)
}
