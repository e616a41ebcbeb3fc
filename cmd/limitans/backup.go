package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"limitans/fault"
	"limitans/internal/backup"
	"limitans/internal/store"
)

type backupCommand struct {
	placeFlags
	File string   `arg:"" help:"File to write; it must not exist."`
	To   []string `name:"to" placeholder:"KEY" help:"Encrypt for this age public key (age1…); may be given more than once."`
}

// Run writes the record and its files into one file.
func (c backupCommand) Run(out *console) error {
	p, err := c.open(out)
	if err != nil {
		return err
	}
	defer p.close()
	wrote, err := backup.Write(out.Context, c.File, p.store, p.vault, backup.Options{Program: version(), Now: out.Now(), Recipients: c.To})
	if err != nil {
		return undoneUnlessFlag(err, "public key", "--to")
	}
	info, err := os.Stat(c.File)
	if err != nil {
		return undone{cannotWrite(c.File, err)}
	}
	fmt.Fprintf(out.Stdout, "Backup written: %s, %s\n", c.File, mib(info.Size()))
	printBackup(out.Stdout, wrote)
	if !wrote.Encrypted {
		fmt.Fprintln(out.Stdout, "It is not encrypted: whoever has the file can read every patient in it. Use --to for an encrypted one.")
	}
	return nil
}

// undoneUnlessFlag marks an error of the machine; a fault at a place that stands
// for a flag stays wrong use of that flag.
func undoneUnlessFlag(err error, where, flag string) error {
	var f *fault.Error
	if errors.As(err, &f) && f.Where == where {
		return atFlag(f, flag)
	}
	return undone{err}
}

// printBackup says what a backup holds.
func printBackup(w io.Writer, s *backup.Summary) {
	fmt.Fprintf(w, "  made        %s by version %s\n", s.Head.MadeAt.Format("2 Jan 2006 15:04 MST"), s.Head.Program)
	fmt.Fprintf(w, "  patients    %d\n", s.Rows["patient"])
	fmt.Fprintf(w, "  eyes        %d\n", s.Rows["eye"])
	fmt.Fprintf(w, "  visits      %d\n", s.Rows["visit"])
	fmt.Fprintf(w, "  operations  %d\n", s.Rows["operation"])
	if s.Head.WithFiles {
		fmt.Fprintf(w, "  files       %d, %s\n", s.Files, mib(s.FileBytes))
	} else {
		fmt.Fprintln(w, "  files       not in it")
	}
	fmt.Fprintf(w, "  history     %d entries; keep this line elsewhere to prove later that none was rewritten:\n", s.Head.HistoryEntries)
	fmt.Fprintf(w, "              %s\n", headText(store.Head{Entries: s.Head.HistoryEntries, Hash: s.Head.HistoryHash}))
}

// headText is how a head of the history is kept on paper.
func headText(h store.Head) string { return fmt.Sprintf("%d:%s", h.Entries, h.Hash) }

type restoreCommand struct {
	placeFlags
	File string `arg:"" help:"Backup to restore."`
	Key  string `name:"key" placeholder:"FILE" help:"File with the age secret key of an encrypted backup."`
}

// Run brings a backup into a new data folder or an empty database.
func (c restoreCommand) Run(out *console) error {
	keys, err := readKey(c.Key)
	if err != nil {
		return err
	}
	head, err := backup.ReadHead(c.File, keys...)
	if err != nil {
		return undone{err}
	}
	p, keep, drop, err := c.restorePlace(out, head.TableVersion)
	if err != nil {
		return err
	}
	restored, err := c.restore(out, p, keys)
	if closing := p.close(); err == nil {
		err = closing
	}
	if err != nil {
		drop()
		return undone{err}
	}
	if err := keep(); err != nil {
		return undone{err}
	}
	fmt.Fprintf(out.Stdout, "Restored and proved: %s\n", c.File)
	printBackup(out.Stdout, restored)
	fmt.Fprintln(out.Stdout, "Nobody is signed in, and jobs that were waiting must be asked for anew.")
	return nil
}

// restore fills the place, brings it up to this program's version and proves it.
func (c restoreCommand) restore(out *console, p *place, keys []string) (*backup.Summary, error) {
	restored, err := backup.Restore(out.Context, c.File, p.store, p.vault, keys...)
	if err != nil {
		return nil, err
	}
	if err := p.store.Upgrade(out.Context); err != nil {
		return nil, err
	}
	report, err := p.store.Verify(out.Context, store.Head{Entries: restored.Head.HistoryEntries, Hash: restored.Head.HistoryHash})
	if err != nil {
		return nil, err
	}
	if !report.OK() {
		return nil, &fault.Error{Code: fault.Malformed, Where: c.File, What: "the restored record does not prove right: " + report.Problems[0].Where + ": " + report.Problems[0].What, Mend: "use an older backup"}
	}
	return restored, nil
}

// readKey reads the file of a secret key; no name, no key.
func readKey(file string) ([]string, error) {
	if file == "" {
		return nil, nil
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, undone{&fault.Error{Code: fault.NotFound, Where: file, What: "the key file cannot be read", Cause: err}}
	}
	return []string{string(text)}, nil
}
