package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"limitans/fault"
	"limitans/internal/store"
	"limitans/internal/vault"
)

// placeFlags say where the record and its files are.
type placeFlags struct {
	Data     string `default:"limitans-data" env:"LIMITANS_DATA" placeholder:"DIR" help:"Data folder of one surgeon's record. Default: limitans-data."`
	Database string `env:"LIMITANS_DATABASE" placeholder:"ADDRESS" help:"PostgreSQL instead of the data folder's own database: postgres://user@host/name. A password is better given by the server's usual means than here."`
	Files    string `env:"LIMITANS_FILES" placeholder:"PLACE" help:"Where scans and films are: a folder, or s3://bucket/prefix. Default: files in the data folder."`
	Key      string `name:"files-key" env:"LIMITANS_FILES_KEY" placeholder:"FILE" help:"Key file of encrypted files; its passphrase stands in LIMITANS_PASSPHRASE."`
}

// filesFolder is the vault's place inside a data folder.
const filesFolder = "files"

// place is an open record with its files.
type place struct {
	store *store.Store
	vault *vault.Vault
}

func (p *place) close() error { return p.store.Close() }

// storeOptions name the database.
func (f placeFlags) storeOptions(out *console) (store.Options, error) {
	o := store.Options{Now: out.Now}
	if f.Database != "" {
		o.Address = f.Database
		return o, nil
	}
	if f.Data == "" {
		return o, &fault.Error{Code: fault.Invalid, Where: "--data", What: "names no folder", Expected: "a data folder"}
	}
	o.Folder = f.Data
	return o, nil
}

// filesPlace is where the vault is.
func (f placeFlags) filesPlace() string {
	if f.Files != "" {
		return f.Files
	}
	return filepath.Join(f.Data, filesFolder)
}

// open opens a record that is there already.
func (f placeFlags) open(out *console) (*place, error) {
	o, err := f.storeOptions(out)
	if err != nil {
		return nil, err
	}
	if o.Folder != "" {
		if _, err := os.Stat(filepath.Join(o.Folder, store.FileName)); err != nil {
			return nil, undone{&fault.Error{Code: fault.NotFound, Where: o.Folder, What: "there is no record", Mend: "give the data folder with --data, or make a record with limitans setup"}}
		}
	}
	return f.make(out, o)
}

// make opens a record and its vault, and makes them where there are none.
func (f placeFlags) make(out *console, o store.Options) (*place, error) {
	s, err := store.Open(out.Context, o)
	if err != nil {
		return nil, undone{err}
	}
	v, err := f.openVault(out.Context, f.filesPlace())
	if err != nil {
		return nil, errors.Join(undone{err}, s.Close())
	}
	return &place{s, v}, nil
}

func (f placeFlags) openVault(ctx context.Context, address string) (*vault.Vault, error) {
	var o vault.Options
	if f.Key != "" {
		key, err := vault.OpenKeyFile(f.Key, os.Getenv("LIMITANS_PASSPHRASE"))
		if err != nil {
			return nil, err
		}
		o.Key = key
	}
	return vault.Open(ctx, address, o)
}

// restorePlace makes a new, empty place for what a backup holds. With a data
// folder everything is made beside it and moved there by keep, so that a
// restore that fails leaves nothing.
func (f placeFlags) restorePlace(out *console, version int64) (p *place, keep func() error, drop func(), err error) {
	o, err := f.storeOptions(out)
	if err != nil {
		return nil, nil, nil, err
	}
	keep, drop = func() error { return nil }, func() {}
	files := f.filesPlace()
	if o.Folder != "" {
		if entries, err := os.ReadDir(o.Folder); err == nil && len(entries) > 0 {
			return nil, nil, nil, undone{&fault.Error{Code: fault.Conflict, Where: o.Folder, What: "the folder is not empty", Mend: "restore into a new folder; nothing was changed"}}
		}
		parent := filepath.Dir(filepath.Clean(o.Folder))
		if err := os.MkdirAll(parent, 0o700); err != nil {
			return nil, nil, nil, undone{cannotWrite(parent, err)}
		}
		made, err := os.MkdirTemp(parent, ".limitans-restore-*")
		if err != nil {
			return nil, nil, nil, undone{cannotWrite(parent, err)}
		}
		final := o.Folder
		o.Folder = made
		if f.Files == "" {
			files = filepath.Join(made, filesFolder)
		}
		drop = func() { os.RemoveAll(made) }
		keep = func() error {
			if err := os.Remove(final); err != nil && !errors.Is(err, os.ErrNotExist) {
				return cannotWrite(final, err)
			}
			if err := os.Rename(made, final); err != nil {
				return cannotWrite(final, err)
			}
			return nil
		}
	}
	s, err := store.OpenForRestore(out.Context, o, version)
	if err != nil {
		drop()
		return nil, nil, nil, undone{err}
	}
	v, err := f.openVault(out.Context, files)
	if err != nil {
		err = errors.Join(undone{err}, s.Close())
		drop()
		return nil, nil, nil, err
	}
	return &place{s, v}, keep, drop, nil
}

// mib writes a size for people.
func mib(bytes int64) string { return fmt.Sprintf("%.1f MiB", float64(bytes)/(1<<20)) }
