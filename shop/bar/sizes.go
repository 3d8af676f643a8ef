package bar

import "barwise/unit"

// list is one source's sizes: whole millimetres, or sixteenths of an inch; pairs are width and height
// of rectangular bars.
type list struct {
	shape  Shape
	system unit.System
	source string
	sizes  []int
	pairs  [][2]int
}

const (
	en10059  = "EN 10059 preferred sizes, as tabled by Uyar Çelik (uyarcelik.com)"
	en10060  = "EN 10060 preferred sizes, as tabled by Uyar Çelik (uyarcelik.com)"
	khHex    = "stock list of cold-finished hexagons, K & H Metals (khmetals.com)"
	din176   = "DIN 176 widths across flats, value from memory"
	fromHead = "EN 10060 preferred sizes, value from memory"
	practice = "common practice, no source"
)

var lists = []list{
	{shape: Square, system: unit.MM, source: practice, sizes: []int{4, 5, 6}},
	{shape: Square, system: unit.MM, source: en10059, sizes: []int{8, 10, 12, 13, 14, 15, 16, 18, 20, 22, 24, 25, 26, 28,
		30, 32, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80, 90, 100, 110, 120, 130, 140, 150}},
	{shape: Round, system: unit.MM, source: practice, sizes: []int{3, 4, 5, 6, 8}},
	{shape: Round, system: unit.MM, source: fromHead, sizes: []int{10, 12, 13, 14, 15}},
	{shape: Round, system: unit.MM, source: en10060, sizes: []int{16, 18, 19, 20, 22, 24, 25, 26, 27, 28, 30, 32, 35, 36, 38,
		40, 42, 45, 48, 50, 52, 55, 60, 63, 65, 70, 73, 75, 80, 85, 90, 95, 100, 105, 110, 115, 120, 125, 130}},
	{shape: Hex, system: unit.MM, source: din176, sizes: []int{4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 17, 19, 22, 24, 27, 30,
		32, 36, 41, 46, 50, 55, 60, 65, 70, 75, 80}},
	{shape: Rect, system: unit.MM, source: practice, pairs: [][2]int{{10, 5}, {12, 6}, {12, 8}, {15, 5}, {15, 8}, {15, 10},
		{20, 5}, {20, 8}, {20, 10}, {20, 12}, {20, 15}, {25, 5}, {25, 8}, {25, 10}, {25, 12}, {25, 15}, {25, 20},
		{30, 5}, {30, 8}, {30, 10}, {30, 12}, {30, 15}, {30, 20}, {30, 25}, {40, 5}, {40, 8}, {40, 10}, {40, 12}, {40, 15},
		{40, 20}, {40, 25}, {40, 30}, {50, 5}, {50, 8}, {50, 10}, {50, 12}, {50, 15}, {50, 20}, {50, 25}, {50, 30}, {50, 40},
		{60, 10}, {60, 15}, {60, 20}, {60, 30}, {60, 40}, {60, 50}, {80, 10}, {80, 15}, {80, 20}, {80, 30}, {80, 40}, {80, 60}}},

	{shape: Square, system: unit.Inch, source: practice, sizes: []int{2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 16, 18, 20, 22, 24,
		26, 28, 32, 36, 40, 44, 48, 56, 64}},
	{shape: Round, system: unit.Inch, source: practice, sizes: []int{2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18,
		20, 22, 24, 26, 28, 30, 32, 36, 40, 44, 48, 56, 64}},
	{shape: Hex, system: unit.Inch, source: khHex, sizes: []int{4, 5, 6, 7, 8, 10, 11, 12, 13, 14, 15, 16, 18, 20, 22, 24, 32}},
	{shape: Rect, system: unit.Inch, source: practice, pairs: [][2]int{{6, 4}, {8, 4}, {8, 6}, {10, 4}, {10, 6}, {12, 4},
		{12, 6}, {12, 8}, {16, 4}, {16, 6}, {16, 8}, {16, 10}, {16, 12}, {20, 4}, {20, 6}, {20, 8}, {20, 12}, {20, 16},
		{24, 4}, {24, 6}, {24, 8}, {24, 12}, {24, 16}, {24, 20}, {32, 4}, {32, 6}, {32, 8}, {32, 12}, {32, 16}, {32, 20}, {32, 24},
		{40, 8}, {40, 12}, {40, 16}, {40, 24}, {40, 32}, {48, 8}, {48, 12}, {48, 16}, {48, 24}, {48, 32}}},
}
