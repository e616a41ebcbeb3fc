package backup

import (
	"bytes"
	"database/sql"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"unicode/utf8"
)

// scanner holds one row of a table while it is read.
type scanner struct {
	columns []column
	into    []any
}

func newScanner(columns []column) *scanner {
	s := &scanner{columns: columns, into: make([]any, len(columns))}
	for i, c := range columns {
		switch c.Type {
		case textColumn:
			s.into[i] = new(sql.NullString)
		case integerColumn:
			s.into[i] = new(sql.NullInt64)
		case realColumn:
			s.into[i] = new(sql.NullFloat64)
		case bytesColumn:
			s.into[i] = new([]byte)
		}
	}
	return s
}

// line writes the row that was scanned last as a JSON array and a line feed.
func (s *scanner) line(out *bytes.Buffer) error {
	values := make([]any, len(s.into))
	for i, v := range s.into {
		switch v := v.(type) {
		case *sql.NullString:
			// JSON would replace bytes that are no UTF-8 without a word.
			if v.Valid && !utf8.ValidString(v.String) {
				return fmt.Errorf("column %s holds text that is not UTF-8", s.columns[i].Name)
			}
			if v.Valid {
				values[i] = v.String
			}
		case *sql.NullInt64:
			if v.Valid {
				values[i] = v.Int64
			}
		case *sql.NullFloat64:
			if v.Valid {
				if math.IsNaN(v.Float64) || math.IsInf(v.Float64, 0) {
					return fmt.Errorf("column %s holds %v, which is no number", s.columns[i].Name, v.Float64)
				}
				values[i] = v.Float64
			}
		case *[]byte:
			if *v != nil {
				values[i] = base64.StdEncoding.EncodeToString(*v)
			}
		}
	}
	encoder := json.NewEncoder(out)
	encoder.SetEscapeHTML(false)
	return encoder.Encode(values)
}

// parseRow reads what [scanner.line] wrote.
func parseRow(line []byte, columns []column) ([]any, error) {
	decoder := json.NewDecoder(bytes.NewReader(line))
	decoder.UseNumber()
	var values []any
	if err := decoder.Decode(&values); err != nil {
		return nil, err
	}
	if len(values) != len(columns) {
		return nil, fmt.Errorf("a row has %d values for %d columns", len(values), len(columns))
	}
	for i, v := range values {
		if v == nil {
			continue
		}
		parsed, err := parseValue(v, columns[i].Type)
		if err != nil {
			return nil, fmt.Errorf("column %s: %w", columns[i].Name, err)
		}
		values[i] = parsed
	}
	return values, nil
}

func parseValue(v any, sort columnType) (any, error) {
	switch v := v.(type) {
	case string:
		switch sort {
		case textColumn:
			return v, nil
		case bytesColumn:
			return base64.StdEncoding.DecodeString(v)
		}
	case json.Number:
		switch sort {
		case integerColumn:
			return strconv.ParseInt(v.String(), 10, 64)
		case realColumn:
			return strconv.ParseFloat(v.String(), 64)
		}
	}
	return nil, fmt.Errorf("%v does not fit the type %s", v, sort)
}
