package main

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/backup"
	"limitans/internal/store"
	"limitans/internal/vault"
)

type verifyCommand struct {
	placeFlags
	Backup string   `placeholder:"FILE" help:"Prove this backup instead of the record."`
	Secret string   `name:"key" placeholder:"FILE" help:"File with the age secret key of an encrypted backup."`
	Head   []string `placeholder:"NUMBER:HASH" help:"Head of the history as it was kept elsewhere; the history must still lead to it."`
	JSON   bool     `name:"json" help:"Print JSON instead of text."`
}

// verification is the outcome of a verification, for printing.
type verification struct {
	OK             bool            `json:"ok"`
	Place          string          `json:"place"`
	Head           string          `json:"head"` // NUMBER:HASH
	Entries        int64           `json:"history_entries"`
	Nouns          int64           `json:"records"`
	AccountEntries int64           `json:"account_entries"`
	Files          int             `json:"files"`
	Bytes          int64           `json:"file_bytes"`
	Problems       []verifyProblem `json:"problems"`
	Notes          []verifyProblem `json:"notes"`
}

type verifyProblem struct {
	Where string `json:"where"`
	What  string `json:"what"`
}

// Run proves the record, its files and the accounts, or a backup.
func (c verifyCommand) Run(out *console) error {
	if c.Backup != "" {
		return c.proveBackup(out)
	}
	heads, err := parseHeads(c.Head)
	if err != nil {
		return err
	}
	p, err := c.open(out)
	if err != nil {
		return err
	}
	defer p.close()
	found, err := prove(out, p, heads)
	if err != nil {
		return undone{err}
	}
	if err := found.print(out, c.JSON); err != nil {
		return err
	}
	if !found.OK {
		return undone{fmt.Errorf("%d problems were found", len(found.Problems))}
	}
	return nil
}

func (c verifyCommand) proveBackup(out *console) error {
	keys, err := readKey(c.Secret)
	if err != nil {
		return err
	}
	s, err := backup.Check(out.Context, c.Backup, keys...)
	if err != nil {
		return undone{err}
	}
	fmt.Fprintf(out.Stdout, "Every part of %s is as it was written.\n", c.Backup)
	printBackup(out.Stdout, s)
	return nil
}

// parseHeads reads NUMBER:HASH.
func parseHeads(texts []string) ([]store.Head, error) {
	var out []store.Head
	for _, text := range texts {
		number, hash, found := strings.Cut(text, ":")
		n, err := strconv.ParseInt(number, 10, 64)
		if !found || err != nil || n < 1 || len(hash) != 64 || strings.Trim(hash, "0123456789abcdef") != "" {
			return nil, &fault.Error{Code: fault.Invalid, Where: "--head", What: fmt.Sprintf("%q is no head of a history", text), Expected: "the number of entries, a colon and 64 hexadecimal digits, as backup and verify print it"}
		}
		out = append(out, store.Head{Entries: n, Hash: hash})
	}
	return out, nil
}

// prove reads everything again.
func prove(out *console, p *place, heads []store.Head) (*verification, error) {
	found := &verification{Place: p.store.Where(), Problems: []verifyProblem{}, Notes: []verifyProblem{}}
	history, err := p.store.Verify(out.Context, heads...)
	if err != nil {
		return nil, err
	}
	found.Head, found.Entries, found.Nouns = headText(history.Head), history.Entries, history.Nouns
	for _, problem := range history.Problems {
		found.Problems = append(found.Problems, verifyProblem{problem.Where, problem.What})
	}
	if history.More > 0 {
		found.Problems = append(found.Problems, verifyProblem{found.Place, fmt.Sprintf("and %d more", history.More)})
	}
	if err := found.accounts(out, p); err != nil {
		return nil, err
	}
	reading := newProgress(out, "reading files")
	files, err := p.vault.Verify(out.Context, func(done, total int64) { reading.update(int(done>>10), int(total>>10)) })
	reading.finish()
	if err != nil {
		return nil, err
	}
	found.Files, found.Bytes = files.Contents, files.Bytes
	for _, f := range files.Findings {
		said := verifyProblem{f.Where, f.Fault.Error()}
		if f.Kind == vault.Unknown {
			found.Notes = append(found.Notes, said)
		} else {
			found.Problems = append(found.Problems, said)
		}
	}
	if files.Unfinished > 0 {
		found.Notes = append(found.Notes, verifyProblem{"files", fmt.Sprintf("%d uploads are unfinished", files.Unfinished)})
	}
	if err := found.referenced(out, p); err != nil {
		return nil, err
	}
	found.OK = len(found.Problems) == 0
	return found, nil
}

// accounts proves the history of the accounts, where there are any.
func (f *verification) accounts(out *console, p *place) error {
	mode, declared, err := account.Recorded(out.Context, p.store)
	if err != nil || !declared {
		return err
	}
	gate, err := account.Open(out.Context, p.store, account.Config{Mode: mode, Now: out.Now})
	if err != nil {
		return err
	}
	checked, err := gate.Verify(out.Context)
	if err != nil {
		return err
	}
	f.AccountEntries = checked.Head.Entries
	for _, problem := range checked.Problems {
		f.Problems = append(f.Problems, verifyProblem{"accounts", problem})
	}
	return nil
}

// referenced asks for every file that the record refers to.
func (f *verification) referenced(out *console, p *place) error {
	hashes, err := p.store.FileHashes(out.Context)
	if err != nil {
		return err
	}
	for _, text := range hashes {
		hash, err := vault.ParseHash(text)
		if err != nil {
			f.Problems = append(f.Problems, verifyProblem{"record", "it refers to a file by something that is no content hash: " + text})
			continue
		}
		have, err := p.vault.Has(out.Context, hash)
		if out.Context.Err() != nil {
			return out.Context.Err()
		}
		if f.named(text) {
			continue // the vault's own proof has told it
		}
		if err != nil {
			f.Problems = append(f.Problems, verifyProblem{"file " + text, err.Error()})
		} else if !have {
			f.Problems = append(f.Problems, verifyProblem{"file " + text, "the record refers to it, and it is not there"})
		}
	}
	return nil
}

// named reports whether a problem speaks of a file already.
func (f *verification) named(hash string) bool {
	return slices.ContainsFunc(f.Problems, func(p verifyProblem) bool { return strings.Contains(p.Where, hash) || strings.Contains(p.What, hash) })
}

func (f *verification) print(out *console, asJSON bool) error {
	if asJSON {
		encoder := json.NewEncoder(out.Stdout)
		encoder.SetIndent("", "  ")
		return encoder.Encode(f)
	}
	fmt.Fprintf(out.Stdout, "Record   %s\n", f.Place)
	fmt.Fprintf(out.Stdout, "History  %d entries about %d records; the head, to keep elsewhere:\n         %s\n", f.Entries, f.Nouns, f.Head)
	fmt.Fprintf(out.Stdout, "Accounts %d entries in their own history\n", f.AccountEntries)
	fmt.Fprintf(out.Stdout, "Files    %d, %s, each read and compared with its content hash\n", f.Files, mib(f.Bytes))
	for _, n := range f.Notes {
		fmt.Fprintf(out.Stdout, "Note     %s: %s\n", n.Where, n.What)
	}
	for _, problem := range f.Problems {
		fmt.Fprintf(out.Stdout, "PROBLEM  %s: %s\n", problem.Where, problem.What)
	}
	if f.OK {
		fmt.Fprintln(out.Stdout, "Nothing was altered.")
	}
	return nil
}
