// SPDX-License-Identifier: GPL-2.0
/*
 * An SPI controller with chips behind it that only ever say one thing, for a
 * board that is emulated: each answers a transfer with its 32-bit word, highest
 * bit first, and begins anew with the next. That is all that a MAX31855 does.
 *
 *   chips  what hangs at chip select 0, 1, 2, by the names of the kernel's drivers
 *   words  what they answer, under /sys/module/pretend_spi/parameters
 */
#include <linux/module.h>
#include <linux/platform_device.h>
#include <linux/spi/spi.h>

#define SELECTS 3

static char *chips[SELECTS];
static int fitted;
static uint words[SELECTS];
module_param_array(chips, charp, &fitted, 0444);
module_param_array(words, uint, NULL, 0644);

static struct platform_device *board;
static struct spi_controller *controller;

static int transfer(struct spi_controller *c, struct spi_device *chip, struct spi_transfer *t)
{
	u8 *in = t->rx_buf;
	int i;

	for (i = 0; in && i < t->len; i++)
		in[i] = i < 4 ? words[chip->chip_select] >> (24 - 8 * i) : 0;
	return 0;
}

static int __init pretend_init(void)
{
	int i, err;

	board = platform_device_register_simple("pretend_spi", 0, NULL, 0);
	if (IS_ERR(board))
		return PTR_ERR(board);
	controller = spi_alloc_master(&board->dev, 0);
	if (!controller) {
		platform_device_unregister(board);
		return -ENOMEM;
	}
	controller->bus_num = 0;
	controller->num_chipselect = SELECTS;
	controller->mode_bits = SPI_MODE_3;
	controller->transfer_one = transfer;
	err = spi_register_controller(controller);
	if (err) {
		spi_controller_put(controller);
		platform_device_unregister(board);
		return err;
	}
	for (i = 0; i < fitted; i++) {
		struct spi_board_info info = { .max_speed_hz = 1000000, .chip_select = i };

		strscpy(info.modalias, chips[i], sizeof(info.modalias));
		spi_new_device(controller, &info);
	}
	return 0;
}

static void __exit pretend_exit(void)
{
	spi_unregister_controller(controller);
	platform_device_unregister(board);
}

module_init(pretend_init);
module_exit(pretend_exit);
MODULE_LICENSE("GPL");
MODULE_DESCRIPTION("An SPI controller with chips of one word, for an emulated board");
