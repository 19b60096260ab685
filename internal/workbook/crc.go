package workbook

import "hash/crc32"

// joinCRC returns the CRC-32 of two pieces one after the other from the CRC-32 of each and the length of the second: the
// first is multiplied by x to the power of as many bits, in the ring of polynomials modulo that of CRC-32 (Gailly and Adler,
// zlib, crc32_combine; from memory).
func joinCRC(first, second uint32, length uint64) uint32 {
	const one, byteShift = 1 << 31, 1 << 23 // x to the power of 0 and of 8: bits are reflected
	shift, square := uint32(one), uint32(byteShift)
	for ; length > 0; length >>= 1 {
		if length&1 != 0 {
			shift = timesCRC(shift, square)
		}
		square = timesCRC(square, square)
	}
	return timesCRC(shift, first) ^ second
}

// timesCRC multiplies two polynomials modulo that of CRC-32.
func timesCRC(a, b uint32) uint32 {
	product := uint32(0)
	for bit := uint32(1 << 31); bit != 0; bit >>= 1 {
		if a&bit != 0 {
			product ^= b
		}
		carry := b & 1
		b = b>>1 ^ crc32.IEEE*carry
	}
	return product
}
