package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"limitans/fault"
	"limitans/internal/bench"
	"limitans/internal/figure"
	"limitans/light"
)

// The calculators are those of package bench; here they get the flags that are
// about files and the form of the answer.
type (
	bubbleCommand struct {
		bench.Bubble
		figureFlag
		jsonFlag
	}
	mixCommand struct {
		bench.Mix
		jsonFlag
	}
	altitudeCommand struct {
		bench.Altitude
		jsonFlag
	}
	dyeCommand struct {
		bench.Dye
		jsonFlag
	}
	portsCommand struct {
		bench.Ports
		jsonFlag
	}
)

// jsonFlag chooses the form of the answer.
type jsonFlag struct {
	JSON bool `name:"json" help:"Print a JSON document instead of text."`
}

// figureFlag asks for a drawing.
type figureFlag struct {
	Figure string `placeholder:"FILE" help:"Draw it into this file, FILE.svg. A file there is replaced."`
}

func (f figureFlag) check() error {
	if f.Figure != "" && !strings.HasSuffix(strings.ToLower(f.Figure), ".svg") {
		return &fault.Error{Code: fault.Invalid, Where: "--figure", What: fmt.Sprintf("%q is no SVG file", f.Figure), Expected: "a name that ends in .svg"}
	}
	return nil
}

// Run prints the prediction.
func (c bubbleCommand) Run(out *console) error { return out.answer(c.Bubble, c.JSON, c.figureFlag) }

// Run prints the mixing sheet.
func (c mixCommand) Run(out *console) error { return out.answer(c.Mix, c.JSON, figureFlag{}) }

// Run prints the estimate and the answer.
func (c altitudeCommand) Run(out *console) error { return out.answer(c.Altitude, c.JSON, figureFlag{}) }

// Run prints the preparation.
func (c dyeCommand) Run(out *console) error { return out.answer(c.Dye, c.JSON, figureFlag{}) }

// Run prints the entry, the ports and what reaches.
func (c portsCommand) Run(out *console) error { return out.answer(c.Ports, c.JSON, figureFlag{}) }

// answer asks a calculator and prints what it says; an answer that stops ends
// with its exit code after it was printed.
func (out *console) answer(q bench.Question, asJSON bool, drawing figureFlag) error {
	if err := drawing.check(); err != nil {
		return err
	}
	a, err := q.Answer()
	if err != nil {
		return err
	}
	if drawing.Figure != "" {
		sheet, err := a.Draw()
		if err != nil {
			return err
		}
		if err := figure.WriteFile(drawing.Figure, sheet); err != nil {
			return undone{err}
		}
	}
	if asJSON {
		err = writeIndented(out.Stdout, a.Document)
	} else {
		err = a.Sheet.WriteText(out.Stdout)
	}
	if err == nil && a.Stopped != "" {
		return stopped{errors.New("stopped: " + a.Stopped)}
	}
	return err
}

func writeIndented(w io.Writer, document any) error {
	encoder := json.NewEncoder(w)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", "  ")
	return encoder.Encode(document)
}

// flowCommand answers what flows through a gauge. Each question is a verb of
// its own, because each has its own liquid, line and pressure.
type flowCommand struct {
	Infusion   infusionCommand      `cmd:"" help:"Flow of infusion fluid through a gauge at a pressure."`
	Oil        oilFlowCommand       `cmd:"" help:"Time to inject or remove silicone oil."`
	Subretinal subretinalCommand    `cmd:"" help:"Aspiration of a retained droplet of heavy liquid through a fine cannula."`
	Injection  injectionCommand     `cmd:"" help:"Flow of salt solution injected under the retina through a fine cannula."`
	Published  flowPublishedCommand `cmd:"" help:"Published measurements beside what these laws compute, with the reasons for differences."`
}

type (
	infusionCommand struct {
		bench.Infusion
		jsonFlag
	}
	oilFlowCommand struct {
		bench.OilFlow
		jsonFlag
	}
	subretinalCommand struct {
		bench.SubretinalLiquid
		jsonFlag
	}
	injectionCommand struct {
		bench.SubretinalInjection
		jsonFlag
	}
	flowPublishedCommand struct {
		bench.FlowPublished
		jsonFlag
	}
)

// Run prints the flow of infusion fluid.
func (c infusionCommand) Run(out *console) error { return out.answer(c.Infusion, c.JSON, figureFlag{}) }

// Run prints the time that oil takes.
func (c oilFlowCommand) Run(out *console) error { return out.answer(c.OilFlow, c.JSON, figureFlag{}) }

// Run prints what the aspiration of a droplet takes.
func (c subretinalCommand) Run(out *console) error {
	return out.answer(c.SubretinalLiquid, c.JSON, figureFlag{})
}

// Run prints the flow of an injection under the retina.
func (c injectionCommand) Run(out *console) error {
	return out.answer(c.SubretinalInjection, c.JSON, figureFlag{})
}

// Run prints published measurements beside computed ones.
func (c flowPublishedCommand) Run(out *console) error {
	return out.answer(c.FlowPublished, c.JSON, figureFlag{})
}

// evidenceCommand shows what is published. Each question to the table is a verb
// of its own; without one, published counts are pooled.
type evidenceCommand struct {
	Pool    publishedCommand    `cmd:"" default:"withargs" help:"Published counts by technique, study by study, and what they say together (this is done without a verb too)."`
	Closure closureCommand      `cmd:"" help:"Closure that can be expected of a hole of a given size."`
	Check   closureCheckCommand `cmd:"" help:"Each published stratum predicted from the others, beside what was observed."`
}

type (
	publishedCommand struct {
		bench.Published
		figureFlag
		jsonFlag
	}
	closureCommand struct {
		bench.Closure
		figureFlag
		jsonFlag
	}
	closureCheckCommand struct {
		bench.ClosureCheck
		figureFlag
		jsonFlag
	}
)

// Run prints published counts and their pools.
func (c publishedCommand) Run(out *console) error {
	return out.answer(c.Published, c.JSON, c.figureFlag)
}

// Run prints the closure to expect.
func (c closureCommand) Run(out *console) error { return out.answer(c.Closure, c.JSON, c.figureFlag) }

// Run prints predictions beside observations.
func (c closureCheckCommand) Run(out *console) error {
	return out.answer(c.ClosureCheck, c.JSON, c.figureFlag)
}

// lightCommand adds up the light on one spot of the retina.
type lightCommand struct {
	bench.Light
	Spectrum string `placeholder:"FILE" help:"Measured spectrum instead of a lamp: wavelength in nm and power per nm, one pair a line."`
	jsonFlag
}

// Run prints dose and what is left on both bases.
func (c lightCommand) Run(out *console) error {
	if c.Spectrum != "" {
		text, err := spectrumText(c.Spectrum)
		if err != nil {
			return undone{fmt.Errorf("%s: %w", c.Spectrum, err)}
		}
		c.Measured = text
	}
	return out.answer(c.Light, c.JSON, figureFlag{})
}

// mostSpectrumFile is more than the reader takes; the file is not read beyond it.
const mostSpectrumFile = 1<<20 + 1

// spectrumText reads a file that holds a spectrum.
func spectrumText(path string) (string, error) {
	file, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, mostSpectrumFile))
	if err != nil {
		return "", err
	}
	_, err = light.ParseSpectrum(string(text))
	return string(text), err
}
