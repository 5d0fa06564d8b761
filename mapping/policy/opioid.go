package policy

// Opioid holds by how much the day of an opioid may differ from the last 24
// hours, as a factor, and how many mg of morphine 1 mg of hydromorphone by
// vein stands for, at the least and at the most.
type Opioid struct {
	Rise      Fraction `yaml:"rise"`
	Fall      Fraction `yaml:"fall"`
	SwapLeast Fraction `yaml:"swapLeast"`
	SwapMost  Fraction `yaml:"swapMost"`
	Source    string
}

// opioid: beyond these a slip by two would pass, or nothing could.
func (c *checker) opioid() {
	x := c.p.Opioid
	c.between("1", "2", named{"opioid.rise", x.Rise})
	c.between("0.25", "1", named{"opioid.fall", x.Fall})
	least, most := named{"opioid.swapLeast", x.SwapLeast}, named{"opioid.swapMost", x.SwapMost}
	c.between("4", "8", least, most) // published ratios by vein: 5 to 7
	c.ordered(least, most)
}
