// SPDX-License-Identifier: GPL-2.0
/*
 * An I2C adapter with one chip behind it that is nothing but 256 registers, for a
 * board that is emulated: the first byte of a write says where, what follows
 * is put there or read from there, one register after the other. Chips made
 * this way (a BMP280 barometer is one) need no more.
 *
 *   address  of the chip on the bus
 *   absent   1: it does not answer
 *   at, put  write `at`, then `put`: register `at` takes the value
 */
#include <linux/i2c.h>
#include <linux/module.h>

static int address = 0x76;
static int absent;
static int at;
module_param(address, int, 0444);
module_param(absent, int, 0644);
module_param(at, int, 0644);

static u8 registers[256];
static u8 pointer;

static int put(const char *text, const struct kernel_param *unused)
{
	return kstrtou8(text, 0, &registers[at & 0xff]);
}
static const struct kernel_param_ops put_ops = { .set = put };
module_param_cb(put, &put_ops, NULL, 0200);

static int transfer(struct i2c_adapter *adapter, struct i2c_msg *messages, int n)
{
	int m, i;

	for (m = 0; m < n; m++) {
		if (messages[m].addr != address || absent)
			return -ENXIO;
		for (i = 0; i < messages[m].len; i++) {
			u8 *byte = &messages[m].buf[i];

			if (messages[m].flags & I2C_M_RD)
				*byte = registers[pointer++];
			else if (i == 0)
				pointer = *byte;
			else
				registers[pointer++] = *byte;
		}
	}
	return n;
}

static u32 functions(struct i2c_adapter *adapter)
{
	return I2C_FUNC_I2C | I2C_FUNC_SMBUS_EMUL;
}

static const struct i2c_algorithm algorithm = {
	.master_xfer = transfer,
	.functionality = functions,
};

static struct i2c_adapter adapter = {
	.owner = THIS_MODULE,
	.algo = &algorithm,
	.name = "pretend_i2c",
	.nr = 1,
};

static int __init pretend_init(void)
{
	return i2c_add_numbered_adapter(&adapter);
}

static void __exit pretend_exit(void)
{
	i2c_del_adapter(&adapter);
}

module_init(pretend_init);
module_exit(pretend_exit);
MODULE_LICENSE("GPL");
MODULE_DESCRIPTION("A chip of plain registers on an I2C adapter, for an emulated board");
