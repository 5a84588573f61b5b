// SPDX-License-Identifier: GPL-2.0
/*
 * A 1-wire bus with up to eight DS18B20 on it, for a board that is emulated.
 * The master hands single time slots to the probes behind it and lets them take
 * as long as they do on a wire, so the kernel's own search, its checksums and
 * its w1_therm driver run above it as they are.
 *
 * What the probes do comes from the DS18B20 data sheet (rev 042208): the ROM
 * and function commands, the scratchpad, what each bit of it means.
 *
 * Under /sys/module/pretend_w1/parameters, one number a probe, with commas:
 *   serial   its number, without family and checksum; set while loading, or
 *            written while the probe is unplugged
 *   milli_c  how warm it is, in thousandths of a degree Celsius
 *   fault    enum fault below
 *   given    how many scratchpads it has given, to be read
 * and for all:
 *   shorted  1: the data wire lies on ground
 *   hang_ms  the next reset pulse takes this long, once
 *   slow_ms  a conversion of 12 bits takes this long (data sheet: 750 at most)
 */
#include <linux/delay.h>
#include <linux/ktime.h>
#include <linux/module.h>
#include <linux/w1.h>

#define PROBES 8
#define FAMILY 0x28

enum fault {
	WELL,
	UNPLUGGED,
	BAD_CHECKSUM,	/* of the scratchpad */
	POWER_LOST,	/* in the middle of each conversion: +85 degrees */
	DEAF,		/* does not hear the command to convert */
	ALL_ZEROS,	/* the scratchpad reads as zeros, whose checksum is right */
	ALL_ONES,
};

static unsigned long long serial[PROBES] = { 1, 2, 3, 4, 5, 6, 7, 8 };
static int probes = 2;
static int milli_c[PROBES] = { [0 ... PROBES - 1] = 15000 };
static int fault[PROBES];
static uint given[PROBES];
static int shorted;
static int hang_ms;
static int slow_ms = 750;
module_param_array(serial, ullong, &probes, 0644);
module_param_array(milli_c, int, NULL, 0644);
module_param_array(fault, int, NULL, 0644);
module_param_array(given, uint, NULL, 0444);
module_param(shorted, int, 0644);
module_param(hang_ms, int, 0644);
module_param(slow_ms, int, 0644);

/* What a probe makes of the next slot. */
enum does {
	WAITING,	/* for a reset */
	ROM_COMMAND,
	SEARCHED,
	MATCHED,
	COMMAND,
	TAKES_PAD,
	GIVES_PAD,
	CONVERTS,
};

struct probe {
	u64 rom;
	enum does does;
	int slots;	/* since it began to do so */
	u8 byte;	/* the last eight bits that were written */
	u8 pad[9];
	bool converting;
	ktime_t ready;
};

static struct probe bus[PROBES];
static const u8 at_power_on[8] = { 0x50, 0x05, 0x4b, 0x46, 0x7f, 0xff, 0x0c, 0x10 };

static int number(const struct probe *p)
{
	return p - bus;
}

static void begin(struct probe *p, enum does does)
{
	p->does = does;
	p->slots = 0;
}

/* Configuration register, bits 5 and 6: 0 for 9 bits, 3 for 12. */
static int bits_less_than_12(const struct probe *p)
{
	return 3 - ((p->pad[4] >> 5) & 3);
}

static void finish_conversion(struct probe *p)
{
	s16 sixteenths;

	if (!p->converting || ktime_before(ktime_get(), p->ready))
		return;
	p->converting = false;
	sixteenths = DIV_ROUND_CLOSEST(milli_c[number(p)] * 16, 1000);
	if (fault[number(p)] == POWER_LOST)
		sixteenths = 85 * 16;
	sixteenths &= ~(BIT(bits_less_than_12(p)) - 1);
	p->pad[0] = sixteenths & 0xff;
	p->pad[1] = sixteenths >> 8;
}

static void obey(struct probe *p)
{
	switch (p->byte) {
	case 0x44:	/* convert */
		begin(p, CONVERTS);
		if (fault[number(p)] == DEAF)
			break;
		p->converting = true;
		p->ready = ktime_add_ms(ktime_get(), slow_ms >> bits_less_than_12(p));
		break;
	case 0xbe:	/* read the scratchpad */
		finish_conversion(p);
		p->pad[8] = w1_calc_crc8(p->pad, 8);
		begin(p, GIVES_PAD);
		break;
	case 0x4e:	/* write alarms and configuration */
		begin(p, TAKES_PAD);
		break;
	default:	/* power supply: reads as ones, it has its own */
		begin(p, WAITING);
	}
}

static void choose(struct probe *p)
{
	switch (p->byte) {
	case 0xf0:
		begin(p, SEARCHED);
		break;
	case 0x55:
		begin(p, MATCHED);
		break;
	case 0xcc:
		begin(p, COMMAND);
		break;
	default:
		begin(p, WAITING);
	}
}

static u8 pad_bit(struct probe *p)
{
	int at = p->slots;

	switch (fault[number(p)]) {
	case ALL_ZEROS:
		return 0;
	case ALL_ONES:
		return 1;
	case BAD_CHECKSUM:
		if (at == 64)	/* the first bit of the checksum */
			return !(p->pad[8] & 1);
	}
	return at < 72 ? (p->pad[at / 8] >> (at % 8)) & 1 : 1;
}

/* One time slot: returns 0 where the probe pulls the wire down. */
static u8 slot(struct probe *p, u8 wire)
{
	u8 own, out = 1;

	switch (p->does) {
	case ROM_COMMAND:
	case COMMAND:
		p->byte = p->byte >> 1 | wire << 7;
		if (++p->slots == 8)
			p->does == COMMAND ? obey(p) : choose(p);
		return 1;
	case MATCHED:
		if (wire != (p->rom >> p->slots & 1))
			begin(p, WAITING);
		else if (++p->slots == 64)
			begin(p, COMMAND);
		return 1;
	case SEARCHED:	/* three slots a bit: it, its opposite, and the way that the master goes */
		own = p->rom >> (p->slots / 3) & 1;
		switch (p->slots++ % 3) {
		case 0:
			return own;
		case 1:
			return !own;
		}
		if (wire != own || p->slots == 3 * 64)
			begin(p, WAITING);
		return 1;
	case TAKES_PAD:
		p->byte = p->byte >> 1 | wire << 7;
		if (++p->slots % 8 == 0)
			p->pad[1 + p->slots / 8] = p->byte;
		if (p->slots == 24)
			begin(p, WAITING);
		return 1;
	case GIVES_PAD:
		out = pad_bit(p);
		if (++p->slots == 72)
			given[number(p)]++;
		return out;
	case CONVERTS:	/* reads as 0 until it is done */
		finish_conversion(p);
		return !p->converting;
	default:
		return 1;
	}
}

static u8 touch_bit(void *unused, u8 bit)
{
	u8 wire = bit;
	int i;

	udelay(65);
	for (i = 0; i < probes; i++)
		if (fault[i] != UNPLUGGED)
			wire &= slot(&bus[i], bit);
	return shorted ? 0 : wire;
}

/* Its checksum makes a ROM code of a serial number: family first, low byte first. */
static u64 rom_of(unsigned long long number)
{
	__le64 code = cpu_to_le64((number << 8 | FAMILY) & GENMASK_ULL(55, 0));

	return le64_to_cpu(code) | (u64)w1_calc_crc8((u8 *)&code, 7) << 56;
}

/* Returns 0 where somebody is there, as w1_reset_bus does. */
static u8 reset_bus(void *unused)
{
	bool here = false;
	int i;

	if (hang_ms) {
		int ms = hang_ms;

		hang_ms = 0;
		msleep(ms);
	}
	usleep_range(960, 1000);
	for (i = 0; i < probes; i++) {
		bus[i].rom = rom_of(serial[i]);
		begin(&bus[i], ROM_COMMAND);
		if (fault[i] == UNPLUGGED) {	/* it has no power either */
			memcpy(bus[i].pad, at_power_on, sizeof(at_power_on));
			bus[i].converting = false;
			continue;
		}
		here = true;
	}
	return shorted || !here;
}

static struct w1_bus_master master = {
	.touch_bit = touch_bit,
	.reset_bus = reset_bus,
};

static int __init pretend_init(void)
{
	int i;

	for (i = 0; i < PROBES; i++)
		memcpy(bus[i].pad, at_power_on, sizeof(at_power_on));
	return w1_add_master_device(&master);
}

static void __exit pretend_exit(void)
{
	w1_remove_master_device(&master);
}

module_init(pretend_init);
module_exit(pretend_exit);
MODULE_LICENSE("GPL");
MODULE_DESCRIPTION("DS18B20 thermometers on a 1-wire bus, for an emulated board");
