package atlas

import (
	"fmt"
	"strings"
)

// checkLetters are the characters of ISO 7064 MOD 37-2 in order of value; "*" stands for 36 and only as check character.
const checkLetters = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"

// CheckCharacter returns the check character of a code of digits and capital letters by ISO/IEC 7064, MOD 37-2. It
// finds every single slip and every swap of neighbours. ok is false when the code holds anything else.
func CheckCharacter(code string) (c byte, ok bool) {
	sum, ok := weigh(code)
	if !ok {
		return 0, false
	}
	return checkLetters[(38-2*sum%37)%37], true
}

// weigh is the pure-system sum of a code before its check character.
func weigh(code string) (sum int, ok bool) {
	for i := range len(code) {
		v := strings.IndexByte(checkLetters[:36], code[i])
		if v < 0 {
			return 0, false
		}
		sum = (2*sum + v) % 37
	}
	return sum, code != ""
}

// itemDigits is the length of an item code before its check character.
const itemDigits = 5

// ItemCode is the code of the nth piece of a library, from 1: five characters and a check character. Its letters are
// those that are hard to mistake.
func ItemCode(n int) (string, error) {
	if n < 1 || n >= 1<<(5*itemDigits) {
		return "", fmt.Errorf("atlas: there is no item number %d", n)
	}
	b := make([]byte, itemDigits)
	for i := itemDigits - 1; i >= 0; i-- {
		b[i] = codeLetters[n%32]
		n /= 32
	}
	c, _ := CheckCharacter(string(b))
	return string(b) + string(c), nil
}

// ReadItemCode reads a code as scanned or typed: spaces and hyphens fall away, small letters become capitals. It fails
// with a sentence that says what kind of slip is likely, given the codes in use.
func ReadItemCode(typed string, known func(code string) bool) (string, error) {
	code := strings.ToUpper(strings.Map(func(r rune) rune {
		if strings.ContainsRune(" -\t\r\n", r) {
			return -1
		}
		return r
	}, typed))
	if soundCode(code) {
		return code, nil
	}
	switch n := len(code); {
	case n < itemDigits+1:
		return "", fmt.Errorf("atlas: code %q is too short: %d characters of %d", code, n, itemDigits+1)
	case n > itemDigits+1:
		return "", fmt.Errorf("atlas: code %q is too long: %d characters, there should be %d", code, n, itemDigits+1)
	}
	if _, ok := weigh(code[:itemDigits]); !ok {
		return "", fmt.Errorf("atlas: code %q holds a character that no code has", code)
	}
	var swapped, slipped []string
	for i := range itemDigits {
		b := []byte(code)
		b[i], b[i+1] = b[i+1], b[i]
		if s := string(b); soundCode(s) && known(s) {
			swapped = append(swapped, s)
		}
	}
	for i := range itemDigits + 1 {
		for _, c := range []byte(checkLetters) {
			b := []byte(code)
			b[i] = c
			if s := string(b); soundCode(s) && known(s) {
				slipped = append(slipped, s)
			}
		}
	}
	switch {
	case len(swapped) > 0:
		return "", fmt.Errorf("atlas: code %q cannot be; two neighbours may be swapped: %s?", code, strings.Join(swapped, " or "))
	case len(slipped) > 0:
		return "", fmt.Errorf("atlas: code %q cannot be; one character may be wrong: %s?", code, strings.Join(slipped, " or "))
	}
	return "", fmt.Errorf("atlas: code %q cannot be, and no piece has one like it; scan the tag again", code)
}

// soundCode reports whether a code has its length and its check character.
func soundCode(code string) bool {
	if len(code) != itemDigits+1 {
		return false
	}
	c, ok := CheckCharacter(code[:itemDigits])
	return ok && c == code[itemDigits]
}
