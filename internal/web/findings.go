package web

import (
	"context"
	"net/http"
	"slices"
	"strings"

	"limitans/eye"
	"limitans/internal/account"
	"limitans/internal/record"
)

// findingView is a finding beside its field.
type findingView struct {
	record.Finding
	Signal   string // stop, caution or note
	Key      string // comes back as "seen"
	Why      string // of the rule
	Passable bool   // with a typed reason
	Rule     record.Rule
	Reason   string // typed already
	Second   string
	Side     string
	Settled  bool // a stop that a reason passes
}

// foundView are the findings of a form by its sections.
type foundView struct {
	Sections map[string][]findingView
	Order    []string // of the sections that have some
	Stops    int
	// Ready: nothing forbids to store, only questions are shown for the first time.
	Ready bool
	Count int
	// Colleagues who can be named as the second person.
	Colleagues []option
}

// In lists the findings of a section, for templates.
func (f foundView) In(section string) []findingView { return f.Sections[section] }

// findingKey says that a finding is the same as one that was shown.
func findingKey(f record.Finding) string {
	return string(f.Code) + " " + f.Where + " " + f.What
}

// signalOf is how a severity is shown.
func signalOf(s record.Severity) string {
	switch s {
	case record.Stop:
		return "stop"
	case record.Ask:
		return "caution"
	}
	return "note"
}

// settled reports whether a noun may be stored: no stop is open and every
// question was seen.
func settled(values entryValues, found []record.Finding, overrides []record.Override) bool {
	if len(record.Unresolved(found, overrides)) > 0 {
		return false
	}
	return !slices.ContainsFunc(found, func(f record.Finding) bool {
		return f.Severity != record.Stop && !values.Has("seen", findingKey(f))
	})
}

// viewFindings arranges findings for the page; section tells where a field stands.
func viewFindings(values entryValues, found []record.Finding, overrides []record.Override, section func(where string) string) foundView {
	f := foundView{Sections: map[string][]findingView{}, Ready: len(record.Unresolved(found, overrides)) == 0, Count: len(found)}
	for _, one := range found {
		v := findingView{Finding: one, Signal: signalOf(one.Severity), Key: findingKey(one)}
		for _, rule := range record.Rules() {
			if rule.Code == one.Code {
				v.Rule, v.Why = rule, rule.Why
			}
		}
		if one.Severity == record.Stop {
			v.Passable = one.Overridable
			code := string(one.Code)
			v.Reason, v.Second, v.Side = values.Get("reason-"+code), values.Get("second-"+code), values.Get("side-"+code)
			v.Settled = len(record.Unresolved([]record.Finding{one}, overrides)) == 0
			if !v.Settled {
				f.Stops++
			}
		}
		at := section(one.Where)
		if len(f.Sections[at]) == 0 {
			f.Order = append(f.Order, at)
		}
		f.Sections[at] = append(f.Sections[at], v)
	}
	return f
}

// saidOnce leaves out that a date is not known where the form already stops at the
// same field and says why.
func saidOnce(found []record.Finding) []record.Finding {
	var out []record.Finding
	for _, f := range found {
		stopped := slices.ContainsFunc(found, func(o record.Finding) bool { return o.Severity == record.Stop && o.Where == f.Where })
		if f.Code != record.CodeDateUnknown || !stopped {
			out = append(out, f)
		}
	}
	return out
}

// fieldOf is the first part of the name of a field: "bubble" of "bubble[0].fill_percent".
func fieldOf(where string) string {
	if at := strings.IndexAny(where, "[."); at >= 0 {
		return where[:at]
	}
	return where
}

// overridesFrom reads the reasons with which stops are passed. Those that the
// noun has already stay.
func (s *Server) overridesFrom(values entryValues, found []record.Finding, before []record.Override, v *visitor) []record.Override {
	out := slices.Clone(before)
	for _, f := range found {
		code := string(f.Code)
		reason := strings.TrimSpace(values.Get("reason-" + code))
		has := slices.ContainsFunc(out, func(o record.Override) bool { return o.Code == f.Code })
		if f.Severity != record.Stop || !f.Overridable || reason == "" || has {
			continue
		}
		side, _ := eye.ParseLaterality(values.Get("side-" + code)) // none typed is what the rule asks for
		out = append(out, record.Override{
			Code: f.Code, Reason: record.FreeText(reason), By: v.actor(), At: s.Now().UTC(),
			TypedSide: side, SecondBy: record.AccountID(values.Get("second-" + code)),
		})
	}
	return out
}

// colleagues are the people of the unit by their account, for lists and names.
type colleagues struct {
	Options []option
	names   map[record.AccountID]string
}

// colleagues lists who may be named as somebody who acted on an eye.
func (s *Server) colleagues(ctx context.Context) (colleagues, error) {
	c := colleagues{names: map[record.AccountID]string{}}
	all, err := s.Gate.Colleagues(ctx)
	if err != nil {
		return c, err
	}
	for _, one := range all {
		c.names[one.ID] = one.ShownName
		if one.Allows(account.ReadClinical) {
			c.Options = append(c.Options, option{string(one.ID), one.ShownName})
		}
	}
	return c, nil
}

// name is who an account belongs to; an account of another unit is its own name.
func (c colleagues) name(id record.AccountID) string {
	if name, is := c.names[id]; is {
		return name
	}
	return string(id)
}

// with adds people who are named already and are no accounts here, so that a form
// never drops them.
func (c colleagues) with(ids ...record.AccountID) []option {
	out := append([]option{{"", "not told"}}, c.Options...)
	for _, id := range ids {
		if id != "" && !slices.ContainsFunc(out, func(o option) bool { return o.Value == string(id) }) {
			out = append(out, option{string(id), c.name(id)})
		}
	}
	return out
}

// formOf reads a form of this page.
func formOf(r *http.Request) (entryValues, error) {
	if err := r.ParseForm(); err != nil {
		return entryValues{}, err
	}
	return entryValues{r.PostForm}, nil
}
