package gcode

var pow10 = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
	1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

var ipow10 = [...]uint64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9}

// fixed rounds v·scale to the nearest whole number, halves away from zero, so that mirrored programs
// have mirrored numbers. |v·scale| must be below 2^52.
func fixed(v, scale float64) int64 {
	s := float64(v * scale)
	if s < 0 {
		return -int64(0.5 - s)
	}
	return int64(s + 0.5)
}

// appendFixed writes n·10^-decimals without trailing zeros or a bare point.
func appendFixed(dst []byte, n int64, decimals int) []byte {
	u := uint64(n)
	if n < 0 {
		dst = append(dst, '-')
		u = uint64(-n)
	}
	whole, frac := u/ipow10[decimals], u%ipow10[decimals]
	dst = appendUint(dst, whole)
	if frac == 0 {
		return dst
	}
	var digits [10]byte
	for i := decimals - 1; i >= 0; i-- {
		digits[i] = byte('0' + frac%10)
		frac /= 10
	}
	end := decimals
	for digits[end-1] == '0' {
		end--
	}
	dst = append(dst, '.')
	return append(dst, digits[:end]...)
}

func appendUint(dst []byte, u uint64) []byte {
	var digits [20]byte
	i := len(digits)
	for {
		i--
		digits[i] = byte('0' + u%10)
		u /= 10
		if u == 0 {
			return append(dst, digits[i:]...)
		}
	}
}
