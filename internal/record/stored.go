package record

import (
	"encoding/json"
	"reflect"
)

// stored writes a noun without version and strike-out.
func stored(e Entity) ([]byte, error) {
	v := reflect.New(reflect.TypeOf(e).Elem())
	v.Elem().Set(reflect.ValueOf(e).Elem()) // the caller's noun stays as it is
	plain := v.Interface().(Entity)
	plain.Identity().Version = 0
	plain.Identity().StruckOut = nil
	return json.Marshal(plain)
}
