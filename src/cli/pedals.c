/* pullcall pedals: what is plugged in, and what it sends. */
#include "cli/cli.h"

#include <stdlib.h>
#include <string.h>

static const char *const looks[] = {
	[PEDAL_CLASS_PEDAL] = "a pedal",     [PEDAL_CLASS_KEYBOARD] = "a keyboard",
	[PEDAL_CLASS_POINTER] = "a pointer", [PEDAL_CLASS_GAMEPAD] = "a gamepad",
	[PEDAL_CLASS_OTHER] = "no pedal",
};

/* A few keys that a remote control or a headset may have as well: only a person knows that a foot
 * is on them. */
static bool may_be_pedal(const struct pedal_info *info)
{
	enum { FEW_KEYS = 6 };

	return info->class == PEDAL_CLASS_OTHER && info->vendor && info->key_count <= FEW_KEYS;
}

void pedal_print(const struct pedal_info *info, FILE *out)
{
	bool pedal = info->class == PEDAL_CLASS_PEDAL;

	fprintf(out, "%s  %04x:%04x  looks like %s\n", info->name, (unsigned)info->vendor,
		(unsigned)info->product, looks[info->class]);
	if (info->port)
		fprintf(out, "  port %s\n", info->port);
	if (info->serial)
		fprintf(out, "  serial %s\n", info->serial);
	for (size_t i = 0; (pedal || may_be_pedal(info)) && i < info->key_count; i++)
		fprintf(out, "  %s%s%s\n", pedal_key_name(info->keys[i].code), pedal ? ": " : "",
			pedal ? gesture_role_names[info->keys[i].role] : "");
	if (may_be_pedal(info))
		fputs("  if it is your pedal: \"pullcall pedals learn\", then press it\n", out);
	if (info->trouble)
		fprintf(out, "  %s\n", info->trouble);
}

static int list(void)
{
	size_t count, pedals = 0;
	struct pedal_info *infos = pedal_list(NULL, &count);

	for (size_t i = 0; i < count; i++) {
		pedals += infos[i].class == PEDAL_CLASS_PEDAL;
		pedal_print(&infos[i], stdout);
	}
	pedal_list_free(infos, count);
	if (pedals == 0)
		fputs("pullcall: no pedal is plugged in that can be told from a keyboard; "
		      "\"pullcall pedals learn\" names any key\n",
		      stderr);
	return pedals ? 0 : EXIT_NO;
}

/* What a device calls itself, as a text in quotes. */
static void print_text(const char *key, const char *value)
{
	struct text line = {0};
	struct json json = {.out = &line};

	json_string(&json, NULL, value);
	printf("    %s: %s\n", key, text_string(&line));
	text_free(&line);
}

static void print_entry(void *owner, const struct pedal_event *event)
{
	const struct pedal_info *info = event->pedal;

	(void)owner;
	puts("# for the bench file ($XDG_CONFIG_HOME/pullcall/bench.yaml)\npedals:");
	printf("  - device: \"%04x:%04x\"\n", (unsigned)info->vendor, (unsigned)info->product);
	print_text("name", info->name);
	if (info->serial)
		print_text("serial", info->serial);
	if (info->port)
		printf("    # port: \"%s\"   # only to tell two equal pedals apart\n", info->port);
	printf("    keys: { %s: step }\n", pedal_key_name((unsigned)event->key));
	if (info->class != PEDAL_CLASS_PEDAL)
		printf("    grab: yes      # it looks like %s: say yes only if it is not yours to type "
		       "with\n",
		       looks[info->class]);
}

static int learn(void)
{
	char *why = NULL;

	fputs("Press the pedal (Ctrl-C gives up) ...\n", stderr);
	if (pedal_learn(NULL, print_entry, NULL, &why))
		return 0;
	fprintf(stderr, "pullcall: %s\n", why);
	free(why);
	return EXIT_NO;
}

int command_pedals(int argc, char **argv)
{
	const struct command_syntax *line = command_read(NULL, NULL, argc, argv);
	if (optind == argc)
		return list();
	if (strcmp(argv[optind], "learn") == 0)
		return learn();
	command_line_wrong(line, "unknown pedals command \"%s\"", argv[optind]);
}
