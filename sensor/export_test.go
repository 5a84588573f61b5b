package sensor

// SPIConn is what stands at an SPI bus.
type SPIConn = spiConn

// OnSPI returns the configuration with other chips at its SPI buses.
func (c Config) OnSPI(open func(bus, chipSelect, hertz int) (SPIConn, error)) Config {
	c.spi = open
	return c
}

// ParseNumber is parseNumber.
func ParseNumber(file, text string) (float64, error) { return parseNumber(file, text) }
