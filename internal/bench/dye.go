package bench

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"limitans/fault"
	"limitans/stain"
)

// Dye prepares a vital dye, or says what stops it.
type Dye struct {
	Dye      string   `required:"" placeholder:"NAME" label:"Name of the dye" help:"Name of the dye: bbg, tb, icg, ifcg, bpb, ta or its full name; its strength may stand behind it."`
	Strength string   `placeholder:"TEXT" label:"Strength on the label" help:"Strength on the label with its unit: \"0.25 mg/mL\", \"0.025 %\" or \"25 mg in 5 mL\"."`
	Also     []string `sep:"none" placeholder:"NAME=STRENGTH" more:"" label:"Another dye of the product" help:"Another dye of a combined product; may be given again."`
	Vehicle  string   `default:"unknown" placeholder:"LIQUID" offer:"bbg-label,tb-label,bss,saline,glucose5,water,unknown" label:"Stands in" help:"What it stands in: bbg-label, tb-label, bss, saline, glucose5, water or unknown. Default: unknown."`

	DyeML   *float64 `name:"dye-ml" placeholder:"ML" label:"Dye that is mixed" help:"Volume of the dye that is mixed, mL."`
	Add     []string `sep:"none" placeholder:"LIQUID=ML" label:"Added to it" help:"What is added to it: bss, saline, glucose5, glucose10, glucose40, dextrose-saline or water, with its volume; may be given again."`
	Target  string   `placeholder:"TEXT" label:"Strength wanted" help:"Strength wanted instead of volumes, with its unit."`
	Diluent string   `default:"bss" placeholder:"LIQUID" offer:"bss,saline,glucose5,water" label:"Diluted with" help:"What it is diluted with to the target. Default: bss."`
	TotalML *float64 `name:"total-ml" placeholder:"ML" label:"Volume wanted" help:"Volume wanted at the target, mL."`

	Limit        string    `placeholder:"TEXT" more:"" label:"The unit's own limit" help:"The unit's own limit for the first dye, with its unit."`
	InjectML     *float64  `name:"inject-ml" placeholder:"ML" label:"Put on the retina" help:"Volume put on the retina each time, mL."`
	ContactS     []float64 `name:"contact-s" placeholder:"SECONDS" label:"Contact, each time" help:"Seconds of contact of each application: 30,45,20."`
	LightPercent *float64  `name:"light-percent" placeholder:"PERCENT" more:"" label:"Light meanwhile" help:"Setting of the light while the dye rests, %."`
	DistanceMM   *float64  `name:"distance-mm" placeholder:"MM" more:"" label:"Distance of the probe" help:"Distance of the probe meanwhile, mm."`
	Hole         string    `default:"none" enum:"none,covered,open" help:"Hole in the macula: none, covered or open. Default: none."`
	DryLens      bool      `name:"dry-hydrophilic-lens" more:"" label:"Dry-state hydrophilic lens to be put in" help:"A dry-state hydrophilic acrylic lens is to be put in."`
	Subretinal   bool      `more:"" label:"Dye suspected below the retina" help:"Dye is suspected below the retina."`
}

// Help is printed below the flags.
func (Dye) Help() string {
	return "Ends with exit code 3 while a stop stands: then nothing is to be injected. A number without its unit is asked back, never guessed."
}

// Answer is the preparation.
func (c Dye) Answer() (Answer, error) {
	in, err := c.input()
	if err != nil {
		return Answer{}, err
	}
	prepared, err := stain.Prepare(in)
	if err != nil {
		return Answer{}, dyeFlag(err)
	}
	d := dyeAnswer{in, prepared}
	a := Answer{Sheet: d.sheet(), Document: d.document()}
	if !prepared.Accepted() {
		var codes []string
		for _, s := range prepared.Stops {
			codes = append(codes, string(s.Code))
		}
		a.Stopped = strings.Join(codes, ", ") + "; nothing is to be injected"
	}
	return a, nil
}

func (c Dye) input() (stain.Input, error) {
	vehicle, err := stain.SolutionOf(c.Vehicle)
	if err != nil {
		return stain.Input{}, atFlag(err, "--vehicle")
	}
	in := stain.NewInput(vehicle, stain.Written{Name: c.Dye, Strength: c.Strength})
	if c.Strength == "" {
		in.Dyes[0] = written(c.Dye)
	}
	for _, text := range c.Also {
		name, strength, cut := strings.Cut(text, "=")
		if !cut {
			return in, &fault.Error{Code: fault.Invalid, Where: "--also", What: fmt.Sprintf("%q has no strength", text), Expected: "NAME=STRENGTH"}
		}
		in.Dyes = append(in.Dyes, stain.Written{Name: name, Strength: strength})
	}
	for _, text := range c.Add {
		p, err := part(text)
		if err != nil {
			return in, atFlag(err, "--add")
		}
		in.Parts = append(in.Parts, p)
	}
	in.Target, in.OwnLimit, in.ContactS = c.Target, c.Limit, c.ContactS
	if in.Diluent, err = stain.SolutionOf(c.Diluent); err != nil {
		return in, atFlag(err, "--diluent")
	}
	if c.TotalML != nil && c.Target == "" {
		return in, &fault.Error{Code: fault.Invalid, Where: "--total-ml", What: "says nothing without --target"}
	}
	if c.DyeML != nil && len(c.Add) == 0 && c.Target == "" {
		return in, &fault.Error{Code: fault.Invalid, Where: "--dye-ml", What: "says nothing without --add"}
	}
	for _, f := range []struct {
		flag  string
		given *float64
		place *float64
	}{
		{"--dye-ml", c.DyeML, &in.StockML},
		{"--total-ml", c.TotalML, &in.TotalML},
		{"--inject-ml", c.InjectML, &in.InjectedML},
		{"--light-percent", c.LightPercent, &in.LightPercent},
		{"--distance-mm", c.DistanceMM, &in.DistanceMM},
	} {
		if f.given == nil {
			continue
		}
		if math.IsNaN(*f.given) {
			return in, &fault.Error{Code: fault.Invalid, Where: f.flag, What: "is no number"}
		}
		*f.place = *f.given
	}
	in.Hole = map[string]stain.Hole{"covered": stain.HoleProtected, "open": stain.HoleOpen}[c.Hole]
	in.DryHydrophilicImplant, in.SubretinalDyeSuspected = c.DryLens, c.Subretinal
	return in, nil
}

// written parts a text such as "BBG 0.25 mg/mL". A name that a number belongs to,
// such as that of a denied dye, stays whole.
func written(text string) stain.Written {
	if _, denied, err := stain.Identify(text); err == nil && denied != nil {
		return stain.Written{Name: text}
	}
	name, strength := stain.SplitNameAndStrength(text)
	return stain.Written{Name: name, Strength: strength}
}

// part reads LIQUID=ML.
func part(text string) (stain.Part, error) {
	key, volume, cut := strings.Cut(text, "=")
	ml, err := strconv.ParseFloat(strings.TrimSpace(volume), 64)
	if !cut || err != nil || math.IsNaN(ml) {
		return stain.Part{}, &fault.Error{Code: fault.Invalid, What: fmt.Sprintf("%q is no liquid with its volume", text), Expected: "LIQUID=ML, for example glucose40=0.05"}
	}
	s, err := stain.SolutionOf(key)
	return stain.Part{Solution: s, ML: ml}, err
}

// dyeFlag names the flag behind a fault of the science.
func dyeFlag(err error) error {
	return atFlagOf(err, map[string]string{
		"dye": "--dye", "strength": "--strength", "own limit": "--limit", "target": "--target", "total": "--total-ml", "volume of the dye": "--dye-ml",
		"volume injected": "--inject-ml", "contact": "--contact-s", "light": "--light-percent", "distance": "--distance-mm",
	})
}
