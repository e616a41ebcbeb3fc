//go:build unix

package vault

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

// childVariable makes this test program a child that works on a vault instead:
// "large SIZE ADDRESS" or "many ROUND ADDRESS", with "key" before it for an
// encrypted vault.
const childVariable = "LIMITANS_VAULT_TEST_CHILD"

func TestMain(m *testing.M) {
	if task := os.Getenv(childVariable); task != "" {
		if err := child(strings.Fields(task)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

func startChild(t *testing.T, task string) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	command := exec.Command(os.Args[0])
	command.Env = append(os.Environ(), childVariable+"="+task)
	command.Stderr = os.Stderr
	out, err := command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	return command, bufio.NewScanner(out)
}

func child(task []string) error {
	p := places[0]
	if task[0] == "key" {
		p, task = places[1], task[1:]
	}
	number, err := strconv.ParseInt(task[1], 10, 64)
	if err != nil {
		return err
	}
	options := Options{Getenv: testEnvironment}
	if p.key {
		if options.Key, err = openOrMakeKey(task[2] + ".key"); err != nil {
			return err
		}
	}
	v, err := Open(context.Background(), task[2], options)
	if err != nil {
		return err
	}
	if task[0] == "large" {
		return childLarge(v, number)
	}
	return childMany(v, number)
}

// childMany stores contents for ever and tells each once it is acknowledged.
func childMany(v *Vault, round int64) error {
	v.chunkSize, v.partSize = 4<<10, testPart
	r := rand.New(rand.NewPCG(uint64(round), 1))
	for i := 0; ; i++ {
		seed, size := uint64(round)*100000+uint64(i), r.IntN(100000)
		content, err := v.Put(context.Background(), bytes.NewReader(manySample(seed, size)), nil)
		if err != nil {
			return err
		}
		fmt.Println(seed, size, content.Hash)
	}
}

// manySample differs for every seed; sample knows 24 bits of it.
func manySample(seed uint64, n int) []byte {
	data := make([]byte, n)
	_, _ = rand.NewChaCha8([32]byte{byte(seed), byte(seed >> 8), byte(seed >> 16), byte(seed >> 24), 1}).Read(data)
	return data
}

// Killed while it stores, again and again on one vault: what was acknowledged is
// there whole, nothing is damaged, and what is left over is unfinished.
func TestKilledAtAnyMoment(t *testing.T) {
	for _, p := range places[:3] { // the child's key file stands beside a folder
		t.Run(p.name, func(t *testing.T) { killed(t, p, p.fresh(t)) })
	}
}

func killed(t *testing.T, p place, address string) {
	acknowledged := map[Hash][2]uint64{}
	task := "many %d " + address
	if p.key {
		task = "key " + task
	}
	moments := rand.New(rand.NewPCG(7, 7))
	for round := range 6 {
		command, lines := startChild(t, fmt.Sprintf(task, round))
		if !lines.Scan() {
			t.Fatalf("the child stored nothing: %v", command.Wait())
		}
		note := func() {
			var seed, size uint64
			var name string
			if _, err := fmt.Sscan(lines.Text(), &seed, &size, &name); err != nil {
				return // the last line may be cut
			}
			if h, err := ParseHash(name); err == nil {
				acknowledged[h] = [2]uint64{seed, size}
			}
		}
		note()
		time.AfterFunc(time.Duration(moments.IntN(60_000))*time.Microsecond, func() { _ = command.Process.Kill() })
		for lines.Scan() {
			note()
		}
		if err := command.Wait(); err == nil {
			t.Fatal("the child ended by itself")
		}
	}
	var v *Vault
	if p.key {
		key, err := openOrMakeKey(address + ".key")
		if err != nil {
			t.Fatal(err)
		}
		if v, err = Open(t.Context(), address, Options{Key: key}); err != nil {
			t.Fatal(err)
		}
	} else {
		v = p.open(t, address)
	}
	check := func() {
		for h, what := range acknowledged {
			if h != sha256.Sum256(manySample(what[0], int(what[1]))) {
				t.Fatalf("content %v was acknowledged with another hash", what)
			}
			mustHold(t, v, manySample(what[0], int(what[1])))
		}
		report := mustVerify(t, v)
		for _, f := range report.Findings {
			if f.Kind != Unknown {
				t.Errorf("%+v", f)
			}
		}
		if report.Contents < len(acknowledged) {
			t.Errorf("%d contents, %d acknowledged", report.Contents, len(acknowledged))
		}
	}
	check()
	swept, err := v.Sweep(t.Context(), func(Hash) (bool, error) { return false, nil }, farFuture)
	if err != nil || swept.Kept != 0 {
		t.Errorf("%+v, %v", swept, err)
	}
	check()
	if report := mustVerify(t, v); report.Unfinished != 0 {
		t.Errorf("unfinished after Sweep: %d", report.Unfinished)
	}
	t.Logf("6 kills, %d contents acknowledged and whole, %d unfinished uploads swept", len(acknowledged), swept.Removed)
}

func openOrMakeKey(path string) (*Key, error) {
	if _, err := os.Stat(path); err == nil {
		return OpenKeyFile(path, "p")
	}
	return createKeyFile(path, "p", cheap)
}

// generated is a film that nobody stores: n bytes from a seed.
func generated(n int64) io.Reader {
	return io.LimitReader(rand.NewChaCha8([32]byte{'f', 'i', 'l', 'm'}), n)
}

// childLarge stores and reads a large content and tells the peak of its memory.
func childLarge(v *Vault, size int64) error {
	var heap atomic.Uint64
	stop := make(chan struct{})
	go func() {
		var m runtime.MemStats
		for {
			select {
			case <-stop:
				return
			case <-time.After(20 * time.Millisecond):
				if runtime.ReadMemStats(&m); m.HeapInuse > heap.Load() {
					heap.Store(m.HeapInuse)
				}
			}
		}
	}()
	ctx := context.Background()
	begun := time.Now()
	content, err := v.Put(ctx, generated(size), nil)
	if err != nil {
		return err
	}
	stored := time.Now()
	r, err := v.Get(ctx, content.Hash)
	if err != nil {
		return err
	}
	h := sha256.New()
	n, err := io.Copy(h, r)
	if err = errors.Join(err, r.Close()); err != nil {
		return err
	}
	if n != size || Hash(h.Sum(nil)) != content.Hash {
		return errors.New("other bytes come out than went in")
	}
	read := time.Now()
	close(stop)
	var resident uint64 // VmHWM, kB
	if status, err := os.ReadFile("/proc/self/status"); err == nil {
		if _, after, found := strings.Cut(string(status), "VmHWM:"); found {
			_, _ = fmt.Sscan(after, &resident)
		}
	}
	mb := float64(size) / 1e6
	fmt.Println(heap.Load(), resident*1024, mb/stored.Sub(begun).Seconds(), mb/read.Sub(stored).Seconds())
	return nil
}

// A film of 1 GiB goes in and out with less than 200 MiB of memory, measured in a
// process of its own: the heap in use, sampled, and the most that the system saw
// resident. The other places have 256 MiB, more than the limit all the same: the
// server of the object store keeps several copies in this process, and the
// encrypted folder takes its time.
func TestAFilmOfAGibibyte(t *testing.T) {
	if testing.Short() {
		t.Skip("long: runs in the full run of scripts/test, without the race detector")
	}
	const limit = 200 << 20
	for _, p := range places[:3] {
		t.Run(p.name, func(t *testing.T) {
			size, address := int64(256<<20), p.fresh(t)
			if p.name == folder.name {
				size = 1 << 30
				var disk syscall.Statfs_t
				if err := syscall.Statfs(os.TempDir(), &disk); err != nil {
					t.Fatal(err)
				}
				if free := int64(disk.Bavail) * int64(disk.Bsize); free < 2*size {
					t.Fatalf("%d MiB free for temporary files; the test needs %d", free>>20, 2*size>>20)
				}
			}
			task := fmt.Sprintf("large %d %s", size, address)
			if p.key {
				task = "key " + task
			}
			command, lines := startChild(t, task)
			var heap, resident uint64
			var in, out float64
			lines.Scan()
			if _, err := fmt.Sscan(lines.Text(), &heap, &resident, &in, &out); err != nil {
				t.Fatalf("%q: %v", lines.Text(), err)
			}
			if err := command.Wait(); err != nil {
				t.Fatal(err)
			}
			t.Logf("%d MiB: heap at most %d MiB, resident at most %d MiB, in %.0f MB/s, out %.0f MB/s", size>>20, heap>>20, resident>>20, in, out)
			if heap == 0 || heap > limit || resident > limit {
				t.Errorf("heap %d MiB, resident %d MiB; the limit is %d MiB", heap>>20, resident>>20, limit>>20)
			}
		})
	}
}
