package vault

import (
	"bytes"
	"context"
	"strings"
	"time"

	"github.com/minio/minio-go/v7"

	"limitans/fault"
)

// mostParts is the protocol's limit on the parts of one object.
const mostParts = 10000

func (s *objectStore) begin(ctx context.Context, id string) (string, func(), error) {
	token, err := s.core.NewMultipartUpload(ctx, s.address.bucket, s.key(s3Location(id)),
		minio.PutObjectOptions{ContentType: "application/octet-stream"})
	if err != nil {
		return "", nil, s.fault(s.where(s3Location(id)), err)
	}
	return token, func() {}, nil
}

// resume: an object store knows no locks. When two go on with one upload, the
// receipts of one of them do not fit in the end, and the store refuses them.
func (s *objectStore) resume(context.Context, string) (func(), error) { return func() {}, nil }

func (s *objectStore) putPart(ctx context.Context, id, token string, p part, data []byte) (string, error) {
	where := s.where(s3Location(id))
	if p.number >= mostParts {
		return "", &fault.Error{Code: fault.TooLarge, Where: where, What: "the file has more parts than an object store takes", Expected: "at most 10000 parts"}
	}
	sent, err := s.core.PutObjectPart(ctx, s.address.bucket, s.key(s3Location(id)), token, p.number+1,
		bytes.NewReader(data), int64(len(data)), minio.PutObjectPartOptions{
			Md5Base64: md5Of(data), Sha256Hex: sha256Of(data), DisableContentSha256: true,
		})
	if err != nil {
		return "", s.fault(where, err)
	}
	return bareTag(sent.ETag), nil
}

func bareTag(tag string) string { return strings.Trim(tag, `"`) }

func (s *objectStore) checkParts(ctx context.Context, id, token string, parts []part) error {
	where := s.where(s3Location(id))
	there := map[int]minio.ObjectPart{}
	for marker := 0; ; {
		result, err := s.core.ListObjectParts(ctx, s.address.bucket, s.key(s3Location(id)), token, marker, 1000)
		if err != nil {
			return s.fault(where, err)
		}
		for _, p := range result.ObjectParts {
			there[p.PartNumber-1] = p
		}
		if !result.IsTruncated || result.NextPartNumberMarker <= marker {
			break
		}
		marker = result.NextPartNumberMarker
	}
	for _, p := range parts {
		if found, is := there[p.number]; !is || found.Size != p.length || bareTag(found.ETag) != p.receipt {
			return malformed(where, "the unfinished upload lacks a part that its state names")
		}
	}
	return nil
}

// openParts: the parts of an object cannot be read before it is complete.
func (s *objectStore) openParts(context.Context, string) (blob, error) { return nil, nil }

func (s *objectStore) commit(ctx context.Context, id, token, _ string, parts []part) (string, error) {
	location := s3Location(id)
	list := make([]minio.CompletePart, len(parts))
	for i, p := range parts {
		list[i] = minio.CompletePart{PartNumber: p.number + 1, ETag: p.receipt}
	}
	_, err := s.core.CompleteMultipartUpload(ctx, s.address.bucket, s.key(location), token, list, minio.PutObjectOptions{})
	if err != nil {
		failed := s.fault(s.where(location), err)
		if isCode(failed, fault.NotFound) {
			// It was completed before the connection or the program broke off.
			if b, err := s.open(ctx, location); err == nil && b.Size() == endOf(parts) {
				return location, nil
			}
		}
		return "", failed
	}
	return location, nil
}

// discard aborts what is pending under the upload's name. A completed object is
// out of reach of that call.
func (s *objectStore) discard(ctx context.Context, id string) error {
	err := s.pending(ctx, s3Location(id), func(name, token string, _ time.Time) error {
		if name != s3Location(id) {
			return nil
		}
		err := s.core.AbortMultipartUpload(ctx, s.address.bucket, s.key(name), token)
		if err != nil {
			if failed := s.fault(s.where(name), err); !isCode(failed, fault.NotFound) {
				return failed
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.objects(ctx, uploadFolder(id)+"/", func(name string, _ minio.ObjectInfo) error {
		if err := s.core.RemoveObject(ctx, s.address.bucket, s.key(name), minio.RemoveObjectOptions{}); err != nil {
			return s.fault(s.where(name), err)
		}
		return nil
	})
}

// pending lists the uploads in parts that the store holds below a name.
func (s *objectStore) pending(ctx context.Context, prefix string, each func(name, token string, begun time.Time) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	for u := range s.core.ListIncompleteUploads(ctx, s.address.bucket, s.key(prefix), true) {
		if u.Err != nil {
			return s.fault(s.where(prefix), u.Err)
		}
		if err := each(strings.TrimPrefix(u.Key, s.key("")), u.UploadID, u.Initiated); err != nil {
			return err
		}
	}
	if err := ctx.Err(); err != nil {
		return stopped(s.where(prefix), err)
	}
	return nil
}

func (s *objectStore) unfinished(ctx context.Context, each func(id string, changed time.Time) error) error {
	changed := map[string]time.Time{}
	note := func(id string, at time.Time) {
		if at.After(changed[id]) || changed[id].IsZero() {
			changed[id] = at
		}
	}
	err := s.pending(ctx, "content/", func(name, _ string, begun time.Time) error {
		note(strings.TrimPrefix(name, "content/"), begun)
		return nil
	})
	if err != nil {
		return err
	}
	err = s.objects(ctx, "uploads/", func(name string, info minio.ObjectInfo) error {
		id, _, _ := strings.Cut(strings.TrimPrefix(name, "uploads/"), "/")
		note(id, info.LastModified)
		return nil
	})
	if err != nil {
		return err
	}
	for id, at := range changed {
		if err := each(id, at); err != nil {
			return err
		}
	}
	return nil
}
