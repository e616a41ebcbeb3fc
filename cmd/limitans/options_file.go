package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"

	"limitans/fault"
)

// mostEyeFile bounds a file with findings.
const mostEyeFile = 1 << 20

// readFile enters the findings of a file where no flag told them; a file and a
// flag that both tell one are refused, because nobody knows which is meant.
func (c *optionsCommand) readFile(path string) error {
	text, err := readSmall(path)
	if err != nil {
		return err
	}
	var entries yaml.MapSlice
	if err := yaml.Unmarshal(text, &entries); err != nil {
		return &fault.Error{Code: fault.Malformed, Where: path, What: "is no YAML: " + strings.SplitN(yaml.FormatError(err, false, false), "\n", 2)[0], Expected: "lines such as mld: 640"}
	}
	fields := c.fields()
	seen := map[string]bool{}
	for _, entry := range entries {
		key := strings.ReplaceAll(fmt.Sprint(entry.Key), "_", "-")
		field, known := fields[key]
		switch {
		case !known:
			return &fault.Error{Code: fault.Invalid, Where: path, What: fmt.Sprintf("%q is no finding", fmt.Sprint(entry.Key)), Expected: "a flag of this command without its dashes", Mend: "see limitans options --help"}
		case seen[key]:
			return &fault.Error{Code: fault.Conflict, Where: path, What: key + " stands there twice"}
		case !field.IsZero():
			return &fault.Error{Code: fault.Conflict, Where: path, What: key + " stands in the file and was given as a flag", Mend: "tell it once"}
		}
		seen[key] = true
		if err := enter(field, entry.Value); err != nil {
			return &fault.Error{Code: fault.Invalid, Where: path, What: fmt.Sprintf("%s: %v", key, err)}
		}
	}
	return nil
}

// readSmall reads a file of at most mostEyeFile.
func readSmall(path string) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		var at *os.PathError
		if errors.As(err, &at) {
			err = at.Err
		}
		return nil, &fault.Error{Code: fault.NotFound, Where: path, What: err.Error(), Expected: "a file with findings"}
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, mostEyeFile+1))
	switch {
	case err != nil:
		return nil, &fault.Error{Code: fault.Malformed, Where: path, What: "cannot be read", Cause: err}
	case len(text) > mostEyeFile:
		return nil, &fault.Error{Code: fault.TooLarge, Where: path, What: "is larger than a file with findings", Expected: "at most 1 MB"}
	}
	return text, nil
}

// fields are the findings, own series and limits by their flag's name.
func (c *optionsCommand) fields() map[string]reflect.Value {
	out := map[string]reflect.Value{"own": reflect.ValueOf(&c.Own).Elem(), "limit": reflect.ValueOf(&c.Limit).Elem()}
	flags := reflect.ValueOf(&c.eyeFlags).Elem()
	for i := range flags.NumField() {
		field := flags.Type().Field(i)
		name := field.Tag.Get("name")
		if name == "" {
			name = flagName(field.Name)
		}
		out[name] = flags.Field(i)
	}
	return out
}

// flagName is the flag of a field: capitals begin words.
func flagName(field string) string {
	var b strings.Builder
	for i, r := range field {
		if r >= 'A' && r <= 'Z' {
			if i > 0 {
				b.WriteByte('-')
			}
			r += 'a' - 'A'
		}
		b.WriteRune(r)
	}
	return b.String()
}

// enter puts a value of the file into a flag's field. YAML reads yes and no as
// they are written, true and false as an answer; null is not told.
func enter(field reflect.Value, value any) error {
	if value == nil {
		return nil
	}
	switch to := field.Addr().Interface().(type) {
	case *string:
		text, err := scalar(value)
		*to = text
		return err
	case **float64:
		text, err := scalar(value)
		if err != nil || toldWord(text) == "" {
			return err
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return fmt.Errorf("%q is no number", text)
		}
		*to = &v
	case *int:
		text, err := scalar(value)
		if err != nil || toldWord(text) == "" {
			return err
		}
		v, err := strconv.Atoi(text)
		if err != nil {
			return fmt.Errorf("%q is no whole number", text)
		}
		*to = v
	case *[]string:
		all, is := value.([]any)
		if !is {
			all = []any{value}
		}
		for _, one := range all {
			text, err := scalar(one)
			if err != nil {
				return err
			}
			*to = append(*to, text)
		}
	}
	return nil
}

// scalar writes one value as a flag would have it. A list of three numbers is a
// diameter with its interval.
func scalar(value any) (string, error) {
	switch v := value.(type) {
	case bool:
		if v {
			return "yes", nil
		}
		return "no", nil
	case string:
		return v, nil
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64), nil
	case int, int64, uint64:
		return fmt.Sprint(v), nil
	case []any:
		if len(v) != 3 {
			break
		}
		var parts []string
		for _, one := range v {
			text, err := scalar(one)
			if err != nil || strings.Contains(text, ":") {
				return "", fmt.Errorf("%v cannot be read", value)
			}
			parts = append(parts, text)
		}
		return strings.Join(slices.Clone(parts), ":"), nil
	}
	return "", fmt.Errorf("%v cannot be read", value)
}
