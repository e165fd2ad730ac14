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
	return checkOf(sum), true
}

// checkOf is the check character for what weighs sum.
func checkOf(sum int) byte { return checkLetters[(38-2*sum%37)%37] }

// after is the sum of a code that weighs sum and goes on with c.
func after(sum int, c byte) int { return (2*sum + strings.IndexByte(checkLetters, c)) % 37 }

// weigh is the pure-system sum of a code before its check character.
func weigh(code string) (sum int, ok bool) {
	for i := range len(code) {
		if strings.IndexByte(checkLetters[:36], code[i]) < 0 {
			return 0, false
		}
		sum = after(sum, code[i])
	}
	return sum, code != ""
}

// itemDigits is the length of an item code before its check character.
const itemDigits = 5

// codesFrom counts the item codes that k more characters can make once those before weigh sum: codesFrom[k][sum]. Codes whose
// check character is easily mistaken, as O for 0, or hard to type, are not used.
var codesFrom = func() (n [itemDigits + 1][37]int) {
	for sum := range 37 {
		if strings.IndexByte(codeLetters, checkOf(sum)) >= 0 {
			n[0][sum] = 1
		}
	}
	for k := 1; k <= itemDigits; k++ {
		for sum := range 37 {
			for i := range len(codeLetters) {
				n[k][sum] += n[k-1][after(sum, codeLetters[i])]
			}
		}
	}
	return n
}()

// ItemCode is the code of the nth piece of a library, from 1: five characters and a check character, all of them letters
// and digits that are hard to mistake for one another.
func ItemCode(n int) (string, error) {
	if n < 1 || n > codesFrom[itemDigits][0] {
		return "", fmt.Errorf("atlas: there is no item number %d", n)
	}
	b, sum := make([]byte, 0, itemDigits+1), 0
	for k := itemDigits - 1; k >= 0; k-- {
		i := 0
		for ; ; i++ { // pass over the codes that begin otherwise
			fewer := codesFrom[k][after(sum, codeLetters[i])]
			if n <= fewer {
				break
			}
			n -= fewer
		}
		b, sum = append(b, codeLetters[i]), after(sum, codeLetters[i])
	}
	return string(append(b, checkOf(sum))), nil
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
