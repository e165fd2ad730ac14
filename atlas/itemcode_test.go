package atlas

import (
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

// Every single slip and every swap of neighbours, in every code of two characters and in 800 spread over all of five:
// over a million slips, none missed.
func TestEverySlipIsFound(t *testing.T) {
	var codes []string
	for _, a := range checkLetters[:36] {
		for _, b := range checkLetters[:36] {
			codes = append(codes, string(a)+string(b))
		}
	}
	for n := range 5400 {
		code, err := ItemCode(1 + n*6200)
		if err != nil {
			t.Fatal(err)
		}
		codes = append(codes, code[:itemDigits])
	}
	slips, swaps := 0, 0
	for _, code := range codes {
		c, _ := CheckCharacter(code)
		whole := code + string(c)
		sound := func(b []byte) bool {
			c, ok := CheckCharacter(string(b[:len(b)-1]))
			return ok && c == b[len(b)-1]
		}
		if !sound([]byte(whole)) {
			t.Fatalf("%s is not sound", whole)
		}
		for i := range whole {
			for _, x := range []byte(checkLetters) {
				b := []byte(whole)
				if b[i] == x {
					continue
				}
				b[i] = x
				if slips++; sound(b) {
					t.Fatalf("%s for %s was not found", b, whole)
				}
			}
			if i > 0 && whole[i] != whole[i-1] {
				b := []byte(whole)
				b[i], b[i-1] = b[i-1], b[i]
				if swaps++; sound(b) {
					t.Fatalf("%s for %s was not found", b, whole)
				}
			}
		}
	}
	if slips < 1_050_000 || swaps < 26_217 {
		t.Errorf("%d slips and %d swaps tried", slips, swaps)
	}
	t.Logf("%d slips, %d swaps", slips, swaps)
}

func TestItemCodes(t *testing.T) {
	seen := map[string]bool{}
	for _, n := range []int{1, 2, 31, 32, 33, 1 << 10, 1<<25 - 1} {
		code, err := ItemCode(n)
		if err != nil || len(code) != itemDigits+1 || seen[code] {
			t.Errorf("%d: %q, %v", n, code, err)
		}
		seen[code] = true
	}
	for _, n := range []int{0, -1, 1 << 25} {
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
