package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"time"

	"github.com/alecthomas/kong"

	"limitans/fault"
	"limitans/internal/bench"
	"limitans/internal/caution"
)

// The exit codes.
const (
	exitDone          = 0
	exitCannotMeasure = 1
	exitWrongUse      = 2
	exitStopped       = 3
)

// console is what a verb sees of the world, so that tests can stand in for it.
type console struct {
	Context context.Context
	Stdin   io.Reader
	Stdout  io.Writer
	Stderr  io.Writer
	Now     func() time.Time
	// Interactive says that Stderr is a terminal, which gets a progress line
	// that is written over.
	Interactive bool
}

// verbs are the commands, in the order of the help text.
type verbs struct {
	Serve    serveCommand    `cmd:"" help:"Serve the pages of a record, to browsers."`
	Measure  measureCommand  `cmd:"" help:"Measure a macular hole and the retina in an OCT scan."`
	Demo     demoCommand     `cmd:"" help:"Invent a clinic, serve its pages on this machine and say where."`
	Phantom  phantomCommand  `cmd:"" help:"Write a synthetic scan with exactly known truth."`
	Proof    proofCommand    `cmd:"" help:"Measure synthetic eyes with known truth and print the errors."`
	Flow     flowCommand     `cmd:"" help:"Flow through small gauges: infusion, silicone oil, heavy liquid under the retina."`
	Bubble   bubbleCommand   `cmd:"" help:"How long a gas bubble stays, what it covers and which pressure it makes."`
	Mix      mixCommand      `cmd:"" help:"Recipe for a gas mixture in the real syringe, with its stops."`
	Ports    portsCommand    `cmd:"" help:"Where to enter an eye, and what reaches from there: distances, port angles, length and bend of the shaft."`
	Light    lightCommand    `cmd:"" help:"Light on the retina as a dose: what is used and what is left, on two bases that never mix."`
	Dye      dyeCommand      `cmd:"" help:"Recipe for a vital dye, with its stops: strength, mixing, contact time."`
	Altitude altitudeCommand `cmd:"" help:"What height does to an eye with gas in it: an estimate, never a permission."`
	Evidence evidenceCommand `cmd:"" help:"Published results: pooled study by study, and the closure to expect of a hole of a size."`
	Options  optionsCommand  `cmd:"" help:"Ways to treat an eye: what to expect of each, reasons for and against, needs and costs."`
	Sheet    sheetCommand    `cmd:"" help:"Print a theatre sheet, mixing sheet, kit list, leaflet or wallet card, as PDF or page."`
	Calendar calendarCommand `cmd:"" help:"Write a visit as a calendar file (RFC 5545), without a name."`
	Acuity   acuityCommand   `cmd:"" help:"Read visual acuity as people write it."`
	Setup    setupCommand    `cmd:"" help:"Make a record with its first administrator."`
	Clinic   clinicCommand   `cmd:"" help:"Make a record with an invented clinic, to look at or to try things in."`
	Keep     keepCommand     `cmd:"" help:"Bring a scan, film or document of an eye into the record; scans are measured by a job."`
	Worker   workerCommand   `cmd:"" help:"Work on waiting jobs; several may work on one PostgreSQL."`
	Jobs     jobsVerbs       `cmd:"" help:"List jobs with their state, progress and error; cancel or retry one."`
	Review   reviewCommand   `cmd:"" help:"List what waits for a person: contested entries, entries that disagree, persons that may be one."`
	Course   courseCommand   `cmd:"" help:"Tell and draw what happened to an eye: acuity, hole, bubble, oil, pressure, operations, visits."`
	Verify   verifyCommand   `cmd:"" help:"Prove that nothing in the record or its files was altered, or that a backup is whole."`
	Backup   backupCommand   `cmd:"" help:"Write the whole record into one file while it is in use."`
	Restore  restoreCommand  `cmd:"" help:"Bring a backup into a new data folder or an empty database."`
	Version  versionCommand  `cmd:"" help:"Print the version and the standing cautions."`
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	info, err := os.Stderr.Stat()
	out := &console{
		Context: ctx, Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr, Now: time.Now,
		Interactive: err == nil && info.Mode()&os.ModeCharDevice != 0,
	}
	code := run(out, os.Args[1:])
	stop()
	os.Exit(code)
}

// run parses the arguments, carries out the verb and returns the exit code.
// Results go to Stdout, one clear line about what went wrong to Stderr.
func run(out *console, arguments []string) (code int) {
	printed := &firstFault{w: out.Stdout}
	inner := *out
	inner.Stdout = printed
	out = &inner
	var v verbs
	exited := -1
	parser, err := kong.New(&v,
		kong.Name("limitans"),
		kong.Vars(bench.Words()),
		kong.Description("A tool for macular surgeons: measures the scan, with every error beside its figure.\n\n"+strings.Join(caution.Full(), "\n")),
		kong.Help(help),
		kong.Writers(out.Stdout, out.Stderr),
		kong.Exit(func(c int) { exited = c }),
	)
	if err != nil {
		fmt.Fprintf(out.Stderr, "limitans: %v\n", err)
		return exitWrongUse
	}
	if len(arguments) == 0 {
		arguments = []string{"--help"}
	}
	command, err := parser.Parse(acuityArguments(arguments))
	if exited >= 0 {
		return exited
	}
	if err != nil {
		fmt.Fprintf(out.Stderr, "limitans: %s\n", wrongUse(err))
		return exitWrongUse
	}
	err = command.Run(out)
	switch {
	case printed.err != nil:
		err = undone{fmt.Errorf("the result could not be printed: %w", printed.err)}
	case errors.Is(err, context.Canceled):
		err = undone{errors.New("stopped before it was done")}
	}
	if err != nil {
		fmt.Fprintf(out.Stderr, "limitans: %v\n", err)
		return exitCode(err)
	}
	return exitDone
}

// wrongUse words what the parser of arguments found, and where help is.
func wrongUse(err error) string {
	text, see := err.Error(), "limitans"
	var parsing *kong.ParseError
	if errors.As(err, &parsing) && parsing.Context != nil && parsing.Context.Selected() != nil {
		see = parsing.Context.Selected().FullPath()
	}
	if missing, is := strings.CutPrefix(text, `expected "<`); is {
		text = "<" + strings.TrimSuffix(missing, `"`) + " is missing"
	}
	if flag, _, is := strings.Cut(text, `: expected string value but got "EOL"`); is {
		text = flag + ": its value is missing"
	}
	return text + " (see " + see + " --help)"
}

// help prints the usage of the program or of one verb, with the cautions.
func help(options kong.HelpOptions, context *kong.Context) error {
	if err := kong.DefaultHelpPrinter(options, context); err != nil || context.Selected() == nil {
		return err // the description of the program carries the cautions itself
	}
	_, err := fmt.Fprintf(context.Stdout, "\nCautions\n  - %s\n", strings.Join(caution.Full(), "\n  - "))
	return err
}

// firstFault remembers the first fault of a writer, so that a full disk or a
// closed pipe does not pass for success.
type firstFault struct {
	w   io.Writer
	err error
}

func (f *firstFault) Write(p []byte) (int, error) {
	n, err := f.w.Write(p)
	if err != nil && f.err == nil {
		f.err = err
	}
	return n, err
}

// undone marks an error of the input or the machine. What stands in it may have
// any code, because a wrong value in a file is no wrong use of the command.
type undone struct{ error }

func (u undone) Unwrap() error { return u.error }

// stopped marks an answer that was printed and says stop: not wrong use, and
// not a failure of the program.
type stopped struct{ error }

func (s stopped) Unwrap() error { return s.error }

// exitCode tells wrong use from input that cannot be measured, and both from an
// answer that says stop.
func exitCode(err error) int {
	if errors.As(err, new(stopped)) {
		return exitStopped
	}
	if errors.As(err, new(undone)) {
		return exitCannotMeasure
	}
	if fault.CodeOf(err) == fault.Invalid {
		return exitWrongUse
	}
	return exitCannotMeasure
}

// version is the module version or revision that the binary was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			return s.Value
		}
	}
	return "development"
}
