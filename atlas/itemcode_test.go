package atlas

import (
	"math"
	"strings"
	"testing"
)

// Values published with several open implementations of ISO/IEC 7064 MOD 37-2 (python-stdnum among them).
func TestCheckCharacterAgainstPublishedValues(t *testing.T) {
	for code, want := range map[string]string{
		"G123489654321": "Y", "A999915000001": "M",
		"LMOSBYFCTRSSJCB3X6U9DUBLKNIH03FO6X963TGXYAHG":  "*",
		"G7N286AL39FFQNU6BH8SMJB5VGMBCB6WPGMWJK800VU7K": "P",
	} {
		if c, ok := CheckCharacter(code); !ok || string(c) != want {
			t.Errorf("%s: %q, want %s", code, c, want)
		}
	}
	for _, code := range []string{"", "ab", "A B", "A*", "Ä"} {
		if _, ok := CheckCharacter(code); ok {
			t.Errorf("%q has a check character", code)
		}
	}
}

// Row CU5: every single slip and every swap of unlike neighbours of 5,500 item codes spread over all there can be: more
// than the 1.05 million slips and 26,217 swaps that the row names, none missed; and the same of every code of two
// characters that there is.
func TestCU5EverySlipIsFound(t *testing.T) {
	slips, swaps := 0, 0
	try := func(code string, letters string) {
		c, ok := CheckCharacter(code)
		if !ok {
			t.Fatalf("%s has no check character", code)
		}
		whole := code + string(c)
		if !sound(whole) {
			t.Fatalf("%s is not sound", whole)
		}
		for i := range whole {
			for _, x := range []byte(letters) {
				if b := []byte(whole); b[i] != x {
					b[i] = x
					if slips++; sound(string(b)) {
						t.Fatalf("%s for %s was not found", b, whole)
					}
				}
			}
			if i > 0 && whole[i] != whole[i-1] {
				b := []byte(whole)
				b[i], b[i-1] = b[i-1], b[i]
				if swaps++; sound(string(b)) {
					t.Fatalf("%s for %s was not found", b, whole)
				}
			}
		}
	}
	for n := range 5500 {
		code, err := ItemCode(1 + n*5200)
		if err != nil {
			t.Fatal(err)
		}
		try(code[:itemDigits], checkLetters[:36])
	}
	t.Logf("item codes: %d slips, %d swaps", slips, swaps)
	if slips < 1_050_000 {
		t.Errorf("only %d slips", slips)
	}
	if swaps < 26_217 {
		t.Errorf("only %d swaps", swaps)
	}
	slips, swaps = 0, 0
	for _, a := range checkLetters[:36] { // all two-character codes, and every character there is
		for _, b := range checkLetters[:36] {
			try(string(a)+string(b), checkLetters)
		}
	}
	t.Logf("all codes of two characters: %d slips, %d swaps", slips, swaps)
	if slips != 36*36*3*36 {
		t.Errorf("%d slips of two-character codes", slips)
	}
}

// sound tells whether a code of any length carries its check character.
func sound(code string) bool {
	c, ok := CheckCharacter(code[:len(code)-1])
	return ok && c == code[len(code)-1]
}

func TestItemCodes(t *testing.T) {
	// The first codes, found the plain way: every number in order, without those whose check character could be mistaken.
	n, last := 0, ""
	for number := 0; n < 3000; number++ {
		b := []byte(strings.Repeat("0", itemDigits))
		for i, left := itemDigits-1, number; i >= 0; i, left = i-1, left/32 {
			b[i] = codeLetters[left%32]
		}
		c, _ := CheckCharacter(string(b))
		if strings.IndexByte("ILOU*", c) >= 0 {
			continue
		}
		n++
		got, err := ItemCode(n)
		if want := string(b) + string(c); err != nil || got != want || !soundCode(got) || got <= last {
			t.Fatalf("%d: %q, %v, want %q", n, got, err, want)
		}
		last = got
	}
	all := codesFrom[itemDigits][0]
	if got, err := ItemCode(all); err != nil || !soundCode(got) || all < 25_000_000 {
		t.Errorf("the last of %d: %q, %v", all, got, err)
	}
	for _, n := range []int{0, -1, all + 1, math.MaxInt} {
		if _, err := ItemCode(n); err == nil {
			t.Errorf("item %d has a code", n)
		}
	}
}

func TestSlipsAreExplained(t *testing.T) {
	a, _ := ItemCode(4711)
	b, _ := ItemCode(99)
	known := func(c string) bool { return c == a || c == b }
	swapped := a[:2] + string(a[3]) + string(a[2]) + a[4:]
	slipped := "7" + a[1:]
	for typed, want := range map[string]string{
		swapped: "swapped: " + a, slipped: "one character may be wrong: " + a, a[:4]: "too short", a + "0": "too long",
		"!!!!!!": "no code has", "ZZZZZZ": "scan the tag again",
	} {
		if _, err := ReadItemCode(typed, known); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", typed, err, want)
		}
	}
	for _, typed := range []string{a, strings.ToLower(a), " " + a[:3] + "-" + a[3:] + "\r\n"} {
		if got, err := ReadItemCode(typed, known); err != nil || got != a {
			t.Errorf("%q: %s, %v", typed, got, err)
		}
	}
}
