package absorber

import (
	"errors"
	"fmt"
)

// InvalidError says which input cannot be computed with. Low and High are the limits
// that Value breaks; they are both 0 when the value is none of a list of names.
type InvalidError struct {
	Layer            int // index from the room; -1 for a condition that is no layer's
	Field            string
	Value, Low, High float64
}

func (e *InvalidError) Error() string {
	where := ""
	if e.Layer >= 0 {
		where = fmt.Sprintf(" of layer %d", e.Layer)
	}
	if e.Low == 0 && e.High == 0 {
		return fmt.Sprintf("absorber: %s%s is unknown", e.Field, where)
	}
	return fmt.Sprintf("absorber: %s%s is %g, outside %g to %g", e.Field, where, e.Value, e.Low, e.High)
}

// within returns an InvalidError unless low <= v <= high; NaN is never within.
func within(field string, v, low, high float64) error {
	if v >= low && v <= high {
		return nil
	}
	return &InvalidError{Layer: -1, Field: field, Value: v, Low: low, High: high}
}

// unknown returns an InvalidError for a name that is on no list.
func unknown(field string) error { return &InvalidError{Layer: -1, Field: field} }

// first returns the first error that is one.
func first(faults ...error) error {
	for _, err := range faults {
		if err != nil {
			return err
		}
	}
	return nil
}

// inLayer says that err is about layer i.
func inLayer(i int, err error) error {
	if invalid := (*InvalidError)(nil); errors.As(err, &invalid) {
		invalid.Layer = i
	}
	return err
}
