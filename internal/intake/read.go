package intake

import (
	"context"

	"limitans/internal/exchange/scan"
	"limitans/internal/record"
	"limitans/internal/vault"
	"limitans/oct"
)

// ReadScan takes a scan of an eye out of the vault, each byte compared with its
// hash, and reads it as it was kept: with the scale a person gave, and turned
// over where a person said so. The copy that is read is removed at the end, also
// that of a run that failed. progress may be nil.
//
// Errors: those of the vault and of reading a scan.
func ReadScan(ctx context.Context, from *vault.Vault, noun *record.Scan, e *record.Eye, progress func(done, total int)) (*oct.Volume, error) {
	hash, err := vault.ParseHash(noun.File.SHA256)
	if err != nil {
		return nil, err
	}
	content, err := from.Get(ctx, hash)
	if err != nil {
		return nil, err
	}
	defer content.Close()
	path, drop, err := spool(ctx, "scan "+string(noun.ID), content)
	if err != nil {
		return nil, err
	}
	defer drop()
	options := scan.Options{Laterality: e.Side, AcceptFlip: noun.Flipped, Progress: progress}
	for _, o := range noun.Overrides {
		options.AcceptSide = options.AcceptSide || o.Code == record.CodeSidesDisagree && o.TypedSide == e.Side
	}
	if noun.ScaleTrust == record.ScaleFromUser {
		options.Scale = scan.GivenScale{DepthUM: noun.DepthUM, LateralUM: noun.LateralUM, SliceUM: noun.SliceUM}
	}
	v, err := scan.Open(ctx, path, options)
	if err != nil {
		return nil, renamed(err, path, "scan "+string(noun.ID))
	}
	return v, nil
}
