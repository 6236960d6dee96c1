/* What every room builds on: memory, text, clocks, faults, quantities, YAML, JSON and XML, paths.
 *
 * Nothing in here knows about rackets. Memory that a function returns is freed by the caller with
 * free(), unless the function says otherwise.
 */
#ifndef BASE_BASE_H
#define BASE_BASE_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <time.h>

/* ---- Memory ----
 *
 * An allocation that fails ends the program. What pullcall holds is small and bounded by the limits
 * of its readers, so running out means that the machine is in trouble; the journal is on disk, and
 * the job goes on at the same call after a restart.
 */

/* Ends the program: for libraries that report that memory ran out. */
_Noreturn void memory_fail(void);

void *memory_new(size_t count, size_t size);               /* zeroed */
void *memory_resize(void *old, size_t count, size_t size); /* what is new is not zeroed */

/* A copy of text, and of its first length bytes. NULL gives NULL. */
char *memory_copy(const char *text);
char *memory_copy_part(const char *text, size_t length);

/* Frees *text and puts a copy of `with` in its place. */
void memory_replace(char **text, const char *with);

/* printf into new memory. */
char *memory_format(const char *format, ...) __attribute__((format(printf, 1, 2)));
char *memory_format_list(const char *format, va_list values) __attribute__((format(printf, 1, 0)));

/* ---- Text that grows ---- */

/* A zeroed struct is an empty text. */
struct text {
	char *bytes; /* terminated; NULL while nothing has been added */
	size_t length;
	size_t capacity;
};

void text_add(struct text *text, const char *bytes);
void text_add_part(struct text *text, const char *bytes, size_t length);
void text_add_char(struct text *text, char byte);
void text_format(struct text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* What was built, or ""; it stays the text's. */
const char *text_string(const struct text *text);

/* What was built, for the caller to free; the text is empty again. */
char *text_take(struct text *text);

/* Removes all but the first length bytes; there must be that many. */
void text_cut(struct text *text, size_t length);

void text_clear(struct text *text); /* keeps the memory, for reuse in a loop */
void text_free(struct text *text);

/* Columns of the first length bytes: one a character, which fits the scripts of phrasebooks. */
int text_columns(const char *text, size_t length);

/* A line may break at a space, but not between a number and its unit. A byte is before it. */
bool text_may_break(const char *at);

/* Adds words and ends the line. Text that began at column `indent` goes on there in the next line
 * where it would pass `columns`; it breaks where it may, and at line ends in `words`. */
void text_add_wrapped(struct text *text, const char *words, int indent, int columns);

/* "a, b or c": names, ended by NULL, for a message. The caller frees it. */
char *text_choice(const char *const *names);

/* As a word of a shell's command line, in quotes where it needs them; the caller frees it. */
char *text_shell_word(const char *text);

/* ---- UTF-8 ---- */

#define UTF8_BAD UINT32_MAX /* a byte that is not part of well-formed UTF-8 */

/* The code point at *at, which moves past it: by one byte for UTF8_BAD, not at all for the 0 at the
 * end. */
uint32_t utf8_next(const char **at);

/* A letter, or an accent written as a character of its own, of the Latin, Greek or Cyrillic script:
 * what a phrasebook may use and the synthesiser is given. */
bool utf8_is_letter(uint32_t point);

/* Whether a terminal obeys it instead of showing it: C0, DEL and C1. */
bool utf8_is_control(uint32_t point);

/* ---- Clocks, in microseconds ---- */

#define SECOND_US ((int64_t)1000000)
#define MS_US     ((int64_t)1000)

int64_t clock_steady_us(void); /* CLOCK_MONOTONIC, as kernel input events are stamped */
int64_t clock_boot_us(void);   /* CLOCK_BOOTTIME: the same, but runs on while the computer sleeps */
int64_t clock_wall_us(void);   /* since 1970-01-01 UTC */

/* Midnight of a day such as 2026-11-25 in local time. False if there is no such day. */
bool clock_read_day(const char *text, struct tm *out);

/* ---- Faults in what a person wrote: files, and values on a command line ----
 *
 * One list goes through all readers, so that every fault of every file is found in one run and all
 * messages look alike: FILE:LINE:COL: error: TEXT [code]. Codes never change, because scripts and
 * tests rely on them; texts may be reworded.
 */

enum fault_severity {
	FAULT_ERROR,   /* the file cannot be used */
	FAULT_WARNING, /* it can, but a person should look */
};

/* Counted from 1; line 0 is the file as a whole. Columns count characters, as editors do. */
struct position {
	int line;
	int column;
};

struct fault {
	char *file;
	struct position position;
	enum fault_severity severity;
	const char *code; /* static storage */
	char *text;
};

enum { FAULTS_MAX = 100 };

/* A zeroed struct is an empty list. It keeps the first FAULTS_MAX; `errors` and `warnings` count
 * all. */
struct faults {
	struct fault *items;
	size_t count;
	size_t errors;
	size_t warnings;
};

/* Adds a fault, unless the same one is there: files in the order in which they were read, lines of
 * each in ascending order. Copies file, not code. Control characters in the text become '?'. */
void fault_add(struct faults *faults, enum fault_severity severity, const char *file,
	       struct position position, const char *code, const char *format, ...)
	__attribute__((format(printf, 6, 7)));

/* Prints them, and says how many are not shown. */
void faults_print(const struct faults *faults, FILE *out);

/* The text of the first error among them, which stays theirs; NULL if there is none. */
const char *faults_first_error(const struct faults *faults);

void faults_free(struct faults *faults);

/* Prints them on standard error and frees them. EXIT_NO if there was an error, else EXIT_DONE. */
int faults_report(struct faults *faults);

/* The one of names (ended by NULL) that `word` is probably a misspelling of, or NULL. */
const char *fault_did_you_mean(const char *word, const char *const *names);

/* 'unknown WHAT "WORD": did you mean "NAME"?', or all that was expected. The caller frees it. */
char *fault_unknown(const char *what, const char *word, const char *const *names);

/* ---- Quantities: numbers with units, as people write them ----
 *
 * "330 mm", "54 lb", "-2.5 kg", "640 cm2", "10 %", "350 ms". A quantity keeps the unit it was
 * written in, because that is what the stringer sets on the machine. Conversion factors are exact:
 * NIST SP 811, Appendix B (1 lbf = 4.4482216152605 N, 1 kgf = 9.80665 N, 1 in = 25.4 mm).
 */

enum dimension {
	DIMENSION_LENGTH,
	DIMENSION_AREA,
	DIMENSION_TENSION,
	DIMENSION_RATIO,
	DIMENSION_TIME,
};

enum unit {
	UNIT_MM,
	UNIT_CM,
	UNIT_M,
	UNIT_IN,
	UNIT_MM2,
	UNIT_CM2,
	UNIT_IN2,
	UNIT_LB, /* pound-force */
	UNIT_KG, /* kilogram-force */
	UNIT_N,
	UNIT_PERCENT,
	UNIT_MS,
	UNIT_S,
	UNIT_COUNT,
};

struct quantity {
	double value;
	enum unit unit;
};

/* Reads "NUMBER UNIT": a plain decimal number (optional sign, at most nine digits before the point
 * and four after it; no exponent) and a unit of the dimension, in capitals or not, "lbs" too; the
 * space between them may be left out. False leaves *out alone, and *why says what was expected; the
 * caller frees it. */
bool quantity_parse(const char *text, enum dimension dimension, struct quantity *out, char **why);

/* The value in mm, mm2, newton, 1 (percent / 100) or s. */
double quantity_base(struct quantity quantity);

struct quantity quantity_convert(struct quantity quantity, enum unit unit);

/* a + b in a's unit, rounded to a hundredth: finer than any tension head is set. */
struct quantity quantity_sum(struct quantity a, struct quantity b);

/* Whether they print alike in a's unit. */
bool quantity_same(struct quantity a, struct quantity b);

enum dimension unit_dimension(enum unit unit);
const char *unit_name(enum unit unit);

/* "54 lb", "24.5 kg", and the number alone: at most two decimals, no trailing zeros. Both return
 * buffer. */
enum { QUANTITY_TEXT_MAX = 40 };
const char *quantity_text(struct quantity quantity, char buffer[static QUANTITY_TEXT_MAX]);
const char *number_text(double value, char buffer[static QUANTITY_TEXT_MAX]);

/* A range in the base unit, said in another: "48.6" and "61.7 lb", in tenths (below 1: hundredths)
 * that are never outside it. quantity_range: "48.6 to 61.7 lb", which the caller frees. */
void quantity_bounds(double min, double max, enum unit unit, char least[static QUANTITY_TEXT_MAX],
		     char most[static QUANTITY_TEXT_MAX]);
char *quantity_range(double min, double max, enum unit unit);

/* Takes zeros at the end of a decimal away, and the point before them. */
void number_trim(char *digits);

/* ---- YAML, read strictly into a small tree of maps, lists and scalars with positions ----
 *
 * libfyaml scans. Refused is what none of our files needs and an accident or an attacker might
 * bring: more than 256 KiB, nesting over 16, anchors, aliases, tags, tabs, NUL, text that is not
 * UTF-8, duplicate keys, a second document. A scalar stays text until one of the readers below
 * converts it, so nothing guesses that `yes` or `010` is a number.
 *
 * The readers add to the document's faults and return false. A caller may go on, to find more
 * faults, and asks yaml_is_good at the end. All text is the document's.
 */

enum { YAML_BYTES_MAX = 256 * 1024, YAML_DEPTH_MAX = 16 };

enum yaml_kind { YAML_SCALAR, YAML_LIST, YAML_MAP };

struct yaml_node {
	enum yaml_kind kind;
	struct position position;
	char *text; /* scalar: never NULL */
	bool plain; /* scalar: written without quotes */
	bool cut;   /* a plain scalar that a comma had cut in two, put together again */
	char *key;  /* of a member of a map, else NULL */
	struct position key_position; /* of a member of a map */
	struct yaml_node *first;      /* list, map: the members, in order */
	struct yaml_node *next;
	struct yaml_document *document;
};

struct yaml_document {
	char *file;  /* as it appears in messages */
	char *bytes; /* the whole file */
	size_t length;
	struct yaml_node *root; /* a map */
	struct faults *faults;
	size_t errors_before; /* in faults, before it was read */
};

/* Reads a file ("-": standard input), text in memory, or one JSON object (RFC 8259) in memory. NULL
 * if that failed; the faults say why. */
struct yaml_document *yaml_read(const char *path, struct faults *faults);
struct yaml_document *yaml_read_text(const char *file, const char *text, struct faults *faults);
struct yaml_document *yaml_read_json(const char *file, const char *bytes, size_t length,
				     struct faults *faults);
void yaml_free(struct yaml_document *document);

/* Whether no error has been found in it so far. */
bool yaml_is_good(const struct yaml_document *document);

/* A position as bytes from the beginning. */
size_t yaml_offset(const struct yaml_document *document, struct position position);

/* The member of a map, or NULL; a missing one is a fault to yaml_need. */
struct yaml_node *yaml_get(const struct yaml_node *map, const char *key);
struct yaml_node *yaml_need(const struct yaml_node *map, const char *key);

/* The text of a scalar, by the keys that lead to it: "tension/mains". NULL if there is none. */
const char *yaml_scalar(const struct yaml_node *map, const char *keys);

/* The readers. They do nothing and return false for a NULL node, so that what yaml_get and
 * yaml_need return can be passed on; where they return false, *out is unchanged. */

/* True for any map; each key that is not among these (ended by NULL) is a fault all the same. */
bool yaml_is_map(const struct yaml_node *node, const char *const *keys);
bool yaml_is_list(const struct yaml_node *node);

/* One line without control characters, at most length_max bytes. */
bool yaml_text(const struct yaml_node *node, size_t length_max, const char **out);
bool yaml_int(const struct yaml_node *node, int min, int max, int *out);
bool yaml_choice(const struct yaml_node *node, const char *const *names, int *out);

/* A table says what a map may hold and where the values go. A row has one of `map` to `each`; a key
 * whose row has none of them is left for the caller to read. */
struct yaml_row {
	const char *key;
	bool needed;
	const struct yaml_row *map; /* a map, with a table of its own */
	char **text;               /* a copy, at most `most` bytes, in the place of what is there */
	int *number;               /* a whole number from `least` to `most` */
	unsigned *choice;          /* an enum: which of `names` */
	bool *yes;                 /* yes | no */
	struct quantity *quantity; /* of `dimension`, from `least` to `most` in its base unit; */
	double *base;              /* the same, converted to the base unit */
	int64_t *us;               /* a time, in microseconds; `least` and `most` are seconds */
	void (*read)(const struct yaml_node *node, void *out); /* anything else */
	void (*each)(const struct yaml_node *node, void *out); /* the same for each of a list */

	const char *const *names; /* ended by NULL */
	enum dimension dimension;
	double least, most;        /* both 0: any */
	void *out;                 /* for `read` and `each` */
	bool *given;               /* becomes true if there is a good value */
	struct position *position; /* of the value, if there is one */
};

/* Reads a map by a table that ends with an empty row. A key that is in no row is a fault. False if
 * it is NULL or no map. */
bool yaml_read_map(const struct yaml_node *node, const struct yaml_row *rows);

/* Reads one value by a row, one of a list say. */
bool yaml_read_value(const struct yaml_node *node, const struct yaml_row *row);

/* Adds a fault or a warning at a value, or at its key: yaml_fault(node, code, format, ...). */
#define YAML_REPORT(node, severity, position, ...)                                                 \
	fault_add((node)->document->faults, severity, (node)->document->file, position, __VA_ARGS__)
#define yaml_fault(node, ...) YAML_REPORT(node, FAULT_ERROR, (node)->position, __VA_ARGS__)
#define yaml_warn(node, ...)  YAML_REPORT(node, FAULT_WARNING, (node)->position, __VA_ARGS__)
#define yaml_fault_key(node, ...)                                                                  \
	YAML_REPORT(node, FAULT_ERROR, (node)->key ? (node)->key_position : (node)->position,      \
		    __VA_ARGS__)

/* ---- JSON (RFC 8259), written straight into a text ----
 *
 * The writer puts the commas; the caller opens and closes. Everything is on one line unless
 * json_line is called, so JSON Lines need nothing special. In a list, key is NULL.
 */

struct json {
	struct text *out;
	bool comma; /* one is due before the next key or value */
};

void json_open(struct json *json, const char *key, char bracket); /* '{' or '[' */
void json_close(struct json *json, char bracket);
void json_string(struct json *json, const char *key, const char *value); /* NULL: null */
void json_int(struct json *json, const char *key, int64_t value);
void json_bool(struct json *json, const char *key, bool value);

/* At most `decimals` decimals, no trailing zeros; a value that is not finite becomes null. */
void json_number(struct json *json, const char *key, double value, int decimals);

/* Begins a new line, indented by depth, before the next key or value. */
void json_line(struct json *json, int depth);

/* ---- XML and HTML ---- */

/* Adds text so that it reads back the same between tags and in quoted attributes. A character that
 * XML does not allow, and a byte that is not UTF-8, becomes U+FFFD. */
void xml_add(struct text *out, const char *text);

/* ---- Paths, by the XDG Base Directory specification ----
 *
 * Patterns and phrasebooks are looked for in these folders; the first that has the file wins:
 *   1. the one that $PULLCALL_PATTERNS or $PULLCALL_VOICE names
 *   2. $XDG_DATA_HOME/pullcall/KIND, by default ~/.local/share/pullcall/KIND
 *   3. ../share/pullcall/KIND beside the running program's folder: a build tree and an installed
 *      tree, wherever it was moved to, look alike
 */

enum path_kind { PATH_PATTERNS, PATH_VOICE };

/* The path of NAME.yaml. NULL if there is none: then *looked (NULL: not wanted) lists the
 * folders, for a message. `beside` is a file whose folder is looked in first, or NULL. */
char *path_find(enum path_kind kind, const char *name, const char *beside, char **looked);

/* The NAME of a file in those folders that `name` is probably a misspelling or a part of, or NULL.
 */
char *path_nearest(enum path_kind kind, const char *name, const char *beside);

/* The names of all files of a kind, in order, ended by NULL; the caller frees each, and the list.
 * In the folder of `beside` any YAML file is listed. */
char **path_names(enum path_kind kind, const char *beside);

/* $XDG_CONFIG_HOME/pullcall/NAME and $XDG_DATA_HOME/pullcall/NAME, or their defaults; NULL without
 * a HOME. Nothing is created. */
char *path_config(const char *name);
char *path_data(const char *name);

/* $XDG_RUNTIME_DIR/pullcall, or NULL if the variable is not set. */
char *path_runtime(void);

/* Becomes the program NAME of the running program's folder, so that a build tree and an installed
 * tree each use their own; else that of PATH. NAME may be a path. Returns with errno if there is
 * none. */
void path_become(const char *name, char **arguments);

/* ---- Command lines: one table says what is accepted, what --help prints, where values go ---- */

/* Exit codes of all programs. Those above 2 are the ones of sysexits.h. */
enum exit_code {
	EXIT_DONE = 0,
	EXIT_NO = 1,           /* the input is at fault, or the answer is no */
	EXIT_USAGE = 2,        /* wrong usage, told in one line */
	EXIT_UNAVAILABLE = 69, /* a device or program that was asked for is not there */
	EXIT_SYSTEM = 71,      /* the system refused something basic */
	EXIT_CREATE = 73,      /* a file cannot be created */
	EXIT_IO = 74,          /* a file, or the journal, cannot be read or written */
};

/* A table ends with an empty row. A row with none of `text`, `number` and `read` takes no value. */
struct option_row {
	const char *name;  /* without its dashes */
	char letter;       /* its short form, or 0 */
	const char *value; /* what the help calls its value: FILE */
	const char *help;
	bool *flag;        /* is set to true */
	const char **text; /* gets the value, which stays in argv */
	int *number; /* gets a whole number from min to max; with `names`, min + which it is */
	int min, max;
	const char *const *names; /* ended by NULL */
	/* Converts the value into *out; false if it is not what is `expected`. */
	bool (*read)(const char *value, void *out);
	void *out;
	const char *expected;
};

struct command_syntax {
	const char *name;    /* of the program or command, as its messages begin: pullcall draw */
	const char *usage;   /* what follows the name, a line for each way to call it */
	const char *about;   /* paragraphs of the help before the options, to be wrapped */
	const char *end;     /* likewise after them */
	const char *operand; /* what an operand is, "a job plan"; NULL if there may be none */
	int least, most;     /* operands; with operand and most 0 there may be any number */
	const struct option_row *options;
};

/* Reads the options; operands begin at argv[optind]. Ends the program where nothing is left to do:
 * it has printed the help (--help, -h) or the version (--version, -V), or the usage is wrong. */
void command_line_read(const struct command_syntax *line, int argc, char **argv);

/* Ends the program with EXIT_USAGE and one line on standard error. */
_Noreturn void command_line_wrong(const struct command_syntax *line, const char *format, ...)
	__attribute__((format(printf, 2, 3)));

/* ---- Standard files ---- */

/* Call first: opens /dev/null on any closed fd 0-2. Otherwise the next file opened, say the
 * journal, would get that number and be read for keys, or be written to as standard output. */
void standard_files_open(void);

#endif
