package paper

// Kit is the list of what must be in the theatre before the operation begins.
type Kit struct {
	Common
	Version Version
	Groups  []KitGroup
}

// KitGroup is some things that lie together.
type KitGroup struct {
	Title string
	Items []KitItem
}

// KitItem is one thing. Traced things have a lot and an expiry to write down.
type KitItem struct {
	Name     string
	Quantity string
	Note     string
	Traced   bool
	Spare    bool // unopened, in reach
}

// Document makes the sheet.
func (k Kit) Document() (*Document, error) {
	d, err := k.Common.document("Kit list", k.Version, "", k.Common.check)
	if err != nil {
		return nil, err
	}
	if len(k.Groups) == 0 {
		return nil, missing("kit", "at least one group of things")
	}
	d.scales = []float64{1, 0.94, 0.88}
	d.body = append(d.body, paragraph{spans: plain("Tick what is there and in date. Lot and expiry of all that stays in the eye or touches it are written down here."), size: 9.6, quiet: true})
	for _, g := range k.Groups {
		d.body = append(d.body, section{title: g.Title, size: 12, above: 9, more: d.words.say("continued"), body: []block{kitTable{items: g.Items, size: 10.5}}})
	}
	d.body = append(d.body, blanks{labels: []string{"Laid out by", "Checked by"}, size: 9.5, above: 14})
	return d, nil
}
