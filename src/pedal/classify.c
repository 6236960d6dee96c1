#include "pedal/internal.h"

#include <string.h>

/* Keys of power buttons, headsets, cameras, remote controls and laptops, as they are numbered:
 * whatever has one of them is no pedal. */
static const struct {
	unsigned short first, last;
} not_for_feet[] = {
	{KEY_MUTE, KEY_POWER},
	{KEY_SLEEP, KEY_WAKEUP},
	{KEY_EJECTCD, KEY_PHONE}, /* with next and previous song */
	{KEY_PLAYCD, KEY_PLAYCD},
	{KEY_SUSPEND, KEY_SUSPEND},
	{KEY_CAMERA, KEY_CAMERA},
	{KEY_BRIGHTNESSDOWN, KEY_SWITCHVIDEOMODE},
	{KEY_BLUETOOTH, KEY_WLAN},
	{KEY_VIDEO_NEXT, KEY_MICMUTE},
	{KEY_OK, KEY_INFO},
	{KEY_RESTART, KEY_RESTART},
	{KEY_PICKUP_PHONE, KEY_HANGUP_PHONE},
	{KEY_TOUCHPAD_TOGGLE, KEY_TOUCHPAD_TOGGLE},
};

/* A pedal has at most FEW_KEYS, or FEW_SPARE_KEYS if some are keys that no keyboard has. */
enum { FEW_KEYS = 6, FEW_SPARE_KEYS = 12, LETTERS_OF_A_KEYBOARD = 10 };

static bool has_bit(uint64_t bits, unsigned bit)
{
	return bits >> bit & 1;
}

static bool any_key_from_to(const struct input_device *device, unsigned first, unsigned last)
{
	for (unsigned code = first; code <= last; code++)
		if (device_has_key(device, code))
			return true;
	return false;
}

static int letters(const struct input_device *device)
{
	int count = 0;

	for (unsigned code = KEY_Q; code <= KEY_M; code++)
		if ((code <= KEY_P || (code >= KEY_A && code <= KEY_L) || code >= KEY_Z) &&
		    device_has_key(device, code))
			count++;
	return count;
}

static bool is_pointer(const struct input_device *device)
{
	bool moves = has_bit(device->relatives, REL_X) && has_bit(device->relatives, REL_Y);
	bool touches =
		has_bit(device->absolutes, ABS_X) &&
		(device_has_key(device, BTN_TOUCH) || device_has_key(device, BTN_LEFT) ||
		 device_has_key(device, BTN_TOOL_PEN) || device_has_key(device, BTN_TOOL_FINGER));

	return moves || touches;
}

static bool is_gamepad(const struct input_device *device)
{
	return has_bit(device->types, EV_ABS) && any_key_from_to(device, BTN_JOYSTICK, BTN_THUMBR);
}

/* Pedals come by USB, by Bluetooth, or from another program. */
static bool can_be_plugged_in(const struct input_device *device)
{
	return device->bus == BUS_USB || device->bus == BUS_BLUETOOTH || device->bus == BUS_VIRTUAL;
}

static bool is_excluded(const struct input_device *device)
{
	if (has_bit(device->types, EV_SW))
		return true;
	for (size_t i = 0; i < sizeof not_for_feet / sizeof *not_for_feet; i++)
		if (any_key_from_to(device, not_for_feet[i].first, not_for_feet[i].last))
			return true;
	return false;
}

static enum pedal_class class_by_keys(const struct input_device *device)
{
	size_t keys = device_keys(device, NULL, 0);

	if (letters(device) >= LETTERS_OF_A_KEYBOARD)
		return PEDAL_CLASS_KEYBOARD;
	if (is_pointer(device))
		return PEDAL_CLASS_POINTER;
	if (is_gamepad(device))
		return PEDAL_CLASS_GAMEPAD;
	if (keys == 0 || !can_be_plugged_in(device) || is_excluded(device))
		return PEDAL_CLASS_OTHER;
	bool spare =
		any_key_from_to(device, KEY_F13, KEY_F24) || any_key_from_to(device, BTN_0, BTN_9);
	return keys <= (spare ? FEW_SPARE_KEYS : FEW_KEYS) ? PEDAL_CLASS_PEDAL : PEDAL_CLASS_OTHER;
}

/* Programmable pedals say that they have every key of a keyboard and a mouse, but many of them say
 * in their name what they are. */
static bool name_says_pedal(const struct input_device *device)
{
	for (size_t i = 0; i < device->node_count; i++)
		if (strcasestr(device->nodes[i].name, "pedal") ||
		    strcasestr(device->nodes[i].name, "footswitch") ||
		    strcasestr(device->nodes[i].name, "foot switch"))
			return true;
	return false;
}

enum pedal_class classify(const struct input_device *device)
{
	if (name_says_pedal(device) && can_be_plugged_in(device) &&
	    device_keys(device, NULL, 0) > 0)
		return PEDAL_CLASS_PEDAL;
	return class_by_keys(device);
}

size_t default_keys(const struct input_device *device, struct pedal_key keys[GESTURE_KEYS_MAX])
{
	static const enum gesture_role row[ROLES_BY_ORDER] = {
		GESTURE_ROLE_NEXT, GESTURE_ROLE_AGAIN, GESTURE_ROLE_BACK, GESTURE_ROLE_PAUSE};
	unsigned codes[GESTURE_KEYS_MAX];
	size_t total = device_keys(device, codes, GESTURE_KEYS_MAX);
	size_t count = total < GESTURE_KEYS_MAX ? total : GESTURE_KEYS_MAX;
	bool by_order = count > 1 && count <= ROLES_BY_ORDER;

	for (size_t i = 0; i < count; i++)
		keys[i] = (struct pedal_key){codes[i], by_order ? row[i] : GESTURE_ROLE_STEP};
	return count;
}

static bool id_matches(int wanted, int id)
{
	return wanted == PEDAL_ANY || wanted == id;
}

static bool text_matches(const char *wanted, const char *text)
{
	return !wanted || same_text(wanted, text);
}

static bool name_matches(const char *wanted, const struct input_device *device)
{
	if (text_matches(wanted, device->name))
		return true;
	for (size_t i = 0; i < device->node_count; i++)
		if (same_text(wanted, device->nodes[i].name))
			return true;
	return false;
}

bool entry_matches(const struct pedal_entry *entry, const struct input_device *device)
{
	return id_matches(entry->vendor, device->vendor) &&
	       id_matches(entry->product, device->product) && name_matches(entry->name, device) &&
	       text_matches(entry->serial, device->serial) &&
	       text_matches(entry->port, device->port);
}
