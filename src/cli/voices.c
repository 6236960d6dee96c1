/* pullcall voices: the list, one text, what to record, and the choice by ear. Sound is the
 * speaker's business: this program becomes it, or drives it as the daemon does. */
#include "cli/cli.h"
#include "draw/draw.h"
#include "speech/speech.h"

#include <ctype.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- the choice by ear: three calls in one way after another ----
 *
 * A press is for the next way, a hold takes the one that was heard, and it is written into the
 * bench file.
 */

enum { WAYS = 8, CALLS = 3 };

/* A way to say it: a variant of the phrasebook's voice ("": its own), a rate, a shop. */
static const struct way {
	const char *variant;
	int rate_wpm;
	bool loud;
} ways[WAYS] = {
	{"", 165, false},    {"", 145, false},    {"", 185, false},    {"", 165, true},
	{"+f3", 165, false}, {"+f4", 165, false}, {"+m3", 165, false}, {"+m7", 165, false},
};

struct trial {
	struct bench *bench;
	const struct phrasebook *book;
	struct presses *presses;
	struct speech *speech;
	const char *sound;
	int way; /* counts on past the last, which the first follows */
	bool taken, left;
};

static char *voice_of(const struct trial *trial)
{
	const char *own = phrasebook_voice(trial->book);
	const char *variant = ways[trial->way % WAYS].variant;

	if (!own)
		return NULL;
	return *variant ? memory_format("%.*s%s", (int)strcspn(own, "+"), own, variant)
			: memory_copy(own);
}

/* A main, a cross and a tension of the commonest frame. */
static void say_calls(const struct trial *trial, struct faults *faults)
{
	static const char plan[] = "job: voices\npattern: open-16x19\nstringer: voices\n"
				   "method: two-piece\ntension: { mains: 54 lb, crosses: 52 lb }\n";
	static const char *const kinds[CALLS] = {"set-tension", "main", "cross-behind"};
	struct script *script =
		script_read_text("voices", plan, NULL, NULL, trial->bench, trial->book, faults);
	int said = 0;

	for (int i = 0; script && said < CALLS && i < script->count; i++)
		if (strcmp(script->lines[i].kind, kinds[said]) == 0) {
			speech_say(trial->speech, script->lines[i].full_words, SPEECH_AFTER,
				   clock_steady_us());
			said++;
		}
	script_free(script);
}

static void begin_way(struct trial *trial)
{
	const struct way *way = &ways[trial->way % WAYS];
	char *voice = voice_of(trial);
	struct faults faults = {0};
	const struct speech_options options = {.sound = trial->sound,
					       .voice = voice,
					       .rate_wpm = way->rate_wpm,
					       .volume_percent = trial->bench->volume_percent,
					       .loud = way->loud};

	fprintf(stderr, "%d of %d: %s, %d words a minute, %s shop\n", trial->way % WAYS + 1, WAYS,
		voice ? voice : "the usual voice", way->rate_wpm, way->loud ? "loud" : "quiet");
	speech_close(trial->speech);
	trial->speech = speech_open(&options, clock_steady_us());
	trial->bench->phrases.clear = way->loud;
	say_calls(trial, &faults);
	faults_report(&faults);
	free(voice);
}

static void on_press(void *owner, const struct pedal_event *event)
{
	struct trial *trial = owner;
	int before = trial->way;

	trial->left |= event->kind == PEDAL_KEYS_ENDED || event->kind == GESTURE_STOP;
	if (event->kind > GESTURE_HELD)
		return;
	if (event->kind == GESTURE_NEXT)
		trial->way++;
	else if (event->kind == GESTURE_UNDO_AGAIN || event->kind == GESTURE_UNDO_PAUSE)
		trial->way -= trial->way > 0 ? event->steps : 0;
	else if (event->kind == GESTURE_BACK)
		trial->way -= trial->way > 0;
	trial->taken = event->kind == GESTURE_PAUSE || event->kind == GESTURE_UNDO_PAUSE;
	if (trial->way != before && !trial->taken)
		begin_way(trial);
}

static bool open_presses(struct trial *trial, char **why)
{
	const struct pedal_config config = {.entries = trial->bench->pedals,
					    .entry_count = (size_t)trial->bench->pedal_count,
					    .times = trial->bench->times};
	char *no_keys = NULL;

	trial->presses = presses_open(&config, on_press, trial, why);
	if (trial->presses)
		presses_read_keys(trial->presses, STDIN_FILENO, &no_keys);
	free(no_keys); /* there may be a pedal */
	return trial->presses;
}

static void listen(struct trial *trial)
{
	struct speech_event event;

	while (!trial->taken && !trial->left) {
		struct pollfd fds[] = {{.fd = speech_fd(trial->speech), .events = POLLIN},
				       {.fd = presses_fd(trial->presses), .events = POLLIN}};
		int64_t due_us = speech_deadline_us(trial->speech);
		int64_t other_us = presses_deadline_us(trial->presses);
		int64_t wait_us = (due_us < other_us ? due_us : other_us) - clock_steady_us();
		poll(fds, 2, wait_us < 0 ? 0 : (int)(wait_us / MS_US % 10000) + 1);
		presses_dispatch(trial->presses);
		speech_dispatch(trial->speech, clock_steady_us());
		while (speech_next(trial->speech, &event)) {
			if (event.kind == SPEECH_REFUSED || event.kind == SPEECH_NO_SOUND)
				fprintf(stderr, "pullcall: %s\n", event.text);
			trial->left |= event.kind == SPEECH_NO_SOUND;
		}
	}
}

/* ---- the choice, in the bench file ---- */

/* Puts `key: value` into the map `voice` of a bench file; everything else stays as it is, comments
 * too. NULL: the file is at fault. The caller frees the text. */
static char *set_key(const char *text, const char *key, const char *value, struct faults *faults)
{
	struct text out = {0};

	if (!strstr(text, "voice:")) {
		bool ended = !*text || text[strlen(text) - 1] == '\n';
		return memory_format("%s%svoice: { %s: %s }\n", text, ended ? "" : "\n", key,
				     value);
	}
	struct yaml_document *document = yaml_read_text("the bench file", text, faults);
	const struct yaml_node *voice = document ? yaml_get(document->root, "voice") : NULL;
	const struct yaml_node *old = voice ? yaml_get(voice, key) : NULL;
	if (old) {
		size_t at = yaml_offset(document, old->position);
		size_t length = old->plain
					? strlen(old->text)
					: strcspn(text + at + 1, text[at] == '"' ? "\"" : "'") + 2;
		text_add_part(&out, text, at);
		text_format(&out, "%s%s", value, text + at + length);
	} else if (voice && voice->kind == YAML_MAP) {
		/* A map in lines has a first key; one in braces may be empty. */
		const struct yaml_node *first = voice->first;
		size_t at = yaml_offset(document, voice->position);
		bool flow = text[at] == '{';
		if (!flow && first)
			at = yaml_offset(document, first->key_position);
		text_add_part(&out, text, at + flow);
		if (flow)
			text_format(&out, " %s: %s%s", key, value, first ? "," : "");
		else if (first)
			text_format(&out, "%s: %s\n%*s", key, value, first->key_position.column - 1,
				    "");
		text_add(&out, text + at + flow);
	}
	yaml_free(document);
	return out.length ? text_take(&out) : NULL;
}

static int take(const struct trial *trial, const char *path)
{
	const struct way *way = &ways[trial->way % WAYS];
	struct faults faults = {0};
	struct yaml_document *document = access(path, F_OK) == 0 ? yaml_read(path, &faults) : NULL;
	char *rate = memory_format("%d", way->rate_wpm), *voice = voice_of(trial);
	const char *const keys[][2] = {
		{"shop", way->loud ? "loud" : "quiet"}, {"rate", rate}, {"name", voice}};
	char *text = memory_copy(document ? document->bytes : "");

	for (int i = 0; i < 3 && text; i++) {
		char *next = keys[i][1] ? set_key(text, keys[i][0], keys[i][1], &faults)
					: memory_copy(text);
		free(text);
		text = next;
	}
	struct bench *bench = text ? bench_read(yaml_read_text(path, text, &faults)) : NULL;
	const char *why = NULL;
	bool good = bench && output_write(path, text, strlen(text), &why);
	char *word = text_shell_word(path);
	if (good)
		fprintf(stderr, "Written: %s\n", word);
	else if (why)
		fprintf(stderr, "pullcall: %s: %s\n", path, why);
	free(word);
	bench_free(bench);
	free(text);
	free(rate);
	free(voice);
	yaml_free(document);
	return good ? faults_report(&faults) : (faults_report(&faults), EXIT_CREATE);
}

static int voices_try(const char *sound, const char *bench_file)
{
	struct faults faults = {0};
	bool is_new = bench_file && access(bench_file, F_OK) != 0;
	struct bench *bench = is_new ? bench_new() : bench_find(bench_file, &faults);
	struct phrasebook *book = bench ? phrasebook_find(bench->language, &faults) : NULL;
	struct trial trial = {.bench = bench, .book = book, .sound = sound ? sound : "auto"};
	char *why = NULL, *path = bench_file ? memory_copy(bench_file) : path_config("bench.yaml");
	int code = EXIT_NO;

	if (faults_report(&faults) == EXIT_DONE && book && path && open_presses(&trial, &why)) {
		fputs("A press is for the next, a hold takes it (keys: space, p takes it, b back, "
		      "q leaves).\n",
		      stderr);
		begin_way(&trial);
		listen(&trial);
		speech_close(trial.speech);
		presses_close(trial.presses);
		if (trial.taken)
			code = take(&trial, path);
	} else if (why) {
		fprintf(stderr, "pullcall: %s\n", why);
	}
	free(why);
	free(path);
	phrasebook_free(book);
	bench_free(bench);
	return code;
}

/* ---- what to record ---- */

/* Adds the words of a text that are not in the list yet, each as the name of its file. */
static void list_words(struct text *list, const char *text)
{
	static const char marks[] = " ,.?-";

	for (const char *at = text + strspn(text, marks); *at; at += strspn(at, marks)) {
		size_t length = strcspn(at, marks);
		char *line = memory_format("\n%.*s.wav\n", (int)length, at);
		line[1] = (char)tolower((unsigned char)line[1]);
		if (!strstr(text_string(list), line))
			text_add(list, line + 1);
		free(line);
		at += length;
	}
}

static int record_list(const char *plan)
{
	struct faults faults = {0};
	struct bench *bench = bench_find(NULL, &faults);
	struct phrasebook *book = bench ? phrasebook_find(bench->language, &faults) : NULL;
	struct script *script = book ? script_read(plan, false, bench, book, &faults) : NULL;
	struct text list = {0};

	text_add(&list, "\n");
	for (int i = 0; script && i < script->count; i++) {
		list_words(&list, script_words(script, i + 1));
		list_words(&list, script->lines[i].again_words);
	}
	fputs(script ? list.bytes + 1 : "", stdout);
	text_free(&list);
	script_free(script);
	phrasebook_free(book);
	bench_free(bench);
	return faults_report(&faults);
}

int command_voices(int argc, char **argv)
{
	static char speaker[] = "pullcall-speaker", list[] = "--list-voices", say[] = "--say";
	static char names[][10] = {"--voice", "--rate", "--volume", "--sound"};
	const char *values[4] = {0}, *bench = NULL;
	const struct option_row options[] = {
		{"voice", .text = &values[0]},  {"rate", .text = &values[1]},
		{"volume", .text = &values[2]}, {"sound", .text = &values[3]},
		{"bench", .text = &bench},      {0},
	};
	char *arguments[2 * 4 + 4] = {speaker};
	int count = 1;

	const struct command_syntax *line = command_read(options, NULL, argc, argv);
	int operands = argc - optind;
	const char *what = operands ? argv[optind] : "list";
	bool try = strcmp(what, "try") == 0, record = strcmp(what, "record-list") == 0;
	if (!try && !record && strcmp(what, "list") != 0)
		command_line_wrong(line, "unknown voices command \"%s\"", what);
	if (record && operands != 2)
		command_line_wrong(line, "the job is missing");
	if (!try && !record && operands > 1)
		command_line_wrong(line, "unexpected \"%s\"", argv[optind + 1]);
	for (int i = 0; i < 4; i++)
		if (values[i] && (!try || (operands == 1 && i < 3)))
			command_line_wrong(line, "%s is for try%s", names[i],
					   try ? " with a text" : "");
	if (record)
		return record_list(argv[optind + 1]);
	if (try && operands == 1)
		return voices_try(values[3], bench);
	for (int i = 0; i < 4; i++)
		if (values[i]) {
			arguments[count++] = names[i];
			arguments[count++] =
				memory_copy(values[i]); /* the process becomes another */
		}
	arguments[count++] = try ? say : list;
	if (try)
		arguments[count] = argv[optind + 1];
	return become_program("pullcall-speaker", arguments);
}
