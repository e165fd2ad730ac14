package jpegll

// firstLine turns the differences of the first line of a restart interval into
// samples: the first against half the range, the rest against the sample to
// the left whatever the predictor (T.81 H.1.2.1).
func firstLine(row []uint16, step int, half uint16) {
	a := half
	for x := 0; x < len(row); x += step {
		a += row[x]
		row[x] = a
	}
}

// predict turns the differences of any other line into samples, in place. prev
// is the line above; the first sample is predicted from the one above it, the
// rest from a (left), b (above) and c (above left) by T.81 Table H.1.
func predict(row, prev []uint16, step, selection int) {
	row[0] += prev[0]
	if selection == 1 {
		a := row[0]
		for x := step; x < len(row); x += step {
			a += row[x]
			row[x] = a
		}
		return
	}
	a, c := int32(row[0]), int32(prev[0])
	prev = prev[:len(row)]
	for x := step; x < len(row); x += step {
		b := int32(prev[x])
		var p int32
		switch selection {
		case 2:
			p = b
		case 3:
			p = c
		case 4:
			p = a + b - c
		case 5:
			p = a + (b-c)>>1
		case 6:
			p = b + (a-c)>>1
		case 7:
			p = (a + b) >> 1
		}
		row[x] += uint16(p)
		a, c = int32(row[x]), b
	}
}
