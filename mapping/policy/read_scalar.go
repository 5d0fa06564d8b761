package policy

import (
	"fmt"
	"reflect"
	"regexp"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"weir.example/weir/mapping/quantity"
)

var (
	wholeNumber = regexp.MustCompile(`^(0|-?[1-9][0-9]{0,8})$`)
	lengthText  = regexp.MustCompile(`^(0|([0-9]+(\.[0-9]+)?(h|m|s))+)$`)
)

// scalar compares one value with its type. A number is taken as it is
// written: no octal or hexadecimal digits, no underscores, no infinity.
func (r *reader) scalar(n *yaml.Node, t reflect.Type, key string) bool {
	if n.Kind != yaml.ScalarNode {
		return r.refuse(key, "is "+kindOf(n), "one value")
	}
	tag, shown := n.ShortTag(), fmt.Sprintf("is %.40q", n.Value)
	number := tag == "!!int" || tag == "!!float"
	switch {
	case t == reflect.TypeFor[Fraction]():
		// No exponent: nobody writes 5 % as 5e-2, and 1e-99999999 is a number
		// of a hundred million digits to whoever reckons with it.
		if _, err := quantity.ParseNumber(n.Value); err != nil || strings.ContainsAny(n.Value, "eE") || !number && tag != "!!str" {
			return r.refuse(key, shown+", no decimal number", "digits, and a point before decimals, such as 0.05")
		}
	case t == reflect.TypeFor[Length]():
		if _, err := time.ParseDuration(n.Value); err != nil || tag != "!!str" || !lengthText.MatchString(n.Value) {
			return r.refuse(key, shown+", no length of time", "hours and minutes, such as 3h, 90m or 1h30m")
		}
	case t.Kind() == reflect.Bool:
		if tag != "!!bool" {
			return r.refuse(key, shown+", neither true nor false", "true or false")
		}
	case t.Kind() == reflect.Int:
		if tag != "!!int" || !wholeNumber.MatchString(n.Value) {
			return r.refuse(key, shown+", no whole number in decimal digits", "a whole number, such as 7")
		}
	case t == reflect.TypeFor[Amount]():
		if tag != "!!str" {
			return r.refuse(key, shown+", which has no unit", "a number, a blank and a UCUM unit, such as 5 mL")
		}
	case tag != "!!str" && tag != "!!timestamp": // a date stays the text it is
		return r.refuse(key, shown+", no text", "text: a number, true or false stands in quotes")
	}
	return true
}

func kindOf(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "a section with keys"
	case yaml.SequenceNode:
		return "a list"
	case yaml.AliasNode:
		return "an alias"
	}
	if n.ShortTag() == "!!null" {
		return "nothing"
	}
	return fmt.Sprintf("the value %.40q", n.Value)
}
