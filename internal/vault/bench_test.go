package vault

import (
	"context"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// BenchmarkEncryptionCost stores and reads 64 MiB without and with a key by
// turns in one run, on the same disk, and tells MB/s of each and the ratio. The
// disk is flushed as always.
func BenchmarkEncryptionCost(b *testing.B) {
	const size = 64 << 20
	var put, get [2]time.Duration
	folder := b.TempDir()
	for i := 0; b.Loop(); i++ {
		for k, key := range []*Key{nil, testKey(b)} {
			root := filepath.Join(folder, "vault")
			v, err := Open(context.Background(), root, Options{Key: key})
			if err != nil {
				b.Fatal(err)
			}
			begun := time.Now()
			content, err := v.Put(b.Context(), io.LimitReader(rand.NewChaCha8([32]byte{byte(i)}), size), nil)
			if err != nil {
				b.Fatal(err)
			}
			put[k] += time.Since(begun)
			begun = time.Now()
			r, err := v.Get(b.Context(), content.Hash)
			if err != nil {
				b.Fatal(err)
			}
			if n, err := io.Copy(io.Discard, r); n != size || err != nil {
				b.Fatal(n, err)
			}
			get[k] += time.Since(begun)
			_ = r.Close()
			if err := os.RemoveAll(root); err != nil {
				b.Fatal(err)
			}
		}
	}
	speed := func(d time.Duration) float64 { return float64(b.N) * size / 1e6 / d.Seconds() }
	b.ReportMetric(speed(put[0]), "put-MB/s")
	b.ReportMetric(speed(put[1]), "put-encrypted-MB/s")
	b.ReportMetric(speed(get[0]), "get-MB/s")
	b.ReportMetric(speed(get[1]), "get-encrypted-MB/s")
	b.ReportMetric(put[1].Seconds()/put[0].Seconds(), "put-ratio")
	b.ReportMetric(get[1].Seconds()/get[0].Seconds(), "get-ratio")
}

// BenchmarkChunk is what a chunk costs without any disk.
func BenchmarkChunk(b *testing.B) {
	plain := sample(1, defaultChunkSize)
	c := coding{testKey(b)}
	stored, err := c.encode(nil, plain)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("encrypt", func(b *testing.B) {
		b.SetBytes(defaultChunkSize)
		buffer := make([]byte, 0, mostStored(defaultChunkSize))
		for b.Loop() {
			if _, err := c.encode(buffer, plain); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("decrypt", func(b *testing.B) {
		b.SetBytes(defaultChunkSize)
		buffer := make([]byte, 0, defaultChunkSize+1)
		for b.Loop() {
			if _, err := c.decode(buffer, stored, defaultChunkSize); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("hash", func(b *testing.B) {
		b.SetBytes(defaultChunkSize)
		for b.Loop() {
			mustHash(plain)
		}
	})
}
