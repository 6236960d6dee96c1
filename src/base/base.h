/* Faults found in what a person wrote: files and values on a command line.
 *
 * One list travels through all readers of a run, so that every fault of every file is found in one
 * go and all messages have one form: FILE:LINE:COL: error: TEXT [code]. The code is permanent:
 * scripts and tests may rely on it, the text may be reworded.
 */
#ifndef BASE_BASE_H
#define BASE_BASE_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* The two clocks: steady time for intervals, wall time for people. Microseconds. */

#define SECOND_US ((int64_t)1000000)
#define MS_US     ((int64_t)1000)

int64_t clock_steady_us(void); /* CLOCK_MONOTONIC: as kernel input events are stamped */
int64_t clock_wall_us(void);   /* since 1970-01-01 UTC */

enum fault_severity {
	FAULT_ERROR,   /* the file cannot be used */
	FAULT_WARNING, /* it can, but a person should look */
};

/* A place in a file, counted from 1; a line of 0 means the file as a whole. */
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

/* A zeroed struct is an empty list. At most FAULTS_MAX are kept; `errors` and `warnings` go on
 * counting. */
struct faults {
	struct fault *items;
	size_t count;
	size_t errors;
	size_t warnings;
};

enum { FAULTS_MAX = 100 };

/* Adds a fault; file is copied, code is not. The text is one line: control characters become '?'.
 */
void fault_add(struct faults *faults, enum fault_severity severity, const char *file,
	       struct position position, const char *code, const char *format, ...)
	__attribute__((format(printf, 6, 7)));

/* Prints the faults in the order of files as read and of lines within a file; says how many were
 * left out. */
void faults_print(const struct faults *faults, FILE *out);

void faults_free(struct faults *faults);

/* The name among names (ended by NULL) that `word` was probably meant to be, or NULL. */
const char *fault_did_you_mean(const char *word, const char *const *names);

/* Text that grows: a string under construction. `bytes` is always terminated; a zeroed struct is
 * empty. */

struct text {
	char *bytes; /* NULL while nothing was added */
	size_t length;
	size_t capacity;
};

void text_add(struct text *text, const char *bytes);
void text_add_part(struct text *text, const char *bytes, size_t length);
void text_add_char(struct text *text, char byte);
void text_format(struct text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* What was built, or "" ; stays owned by text. */
const char *text_string(const struct text *text);

/* What was built, now owned by the caller; text is empty again. */
char *text_take(struct text *text);

/* Takes away the first length bytes; so many must be there. */
void text_remove_start(struct text *text, size_t length);

/* Empties the text but keeps its memory, for reuse in a loop. */
void text_clear(struct text *text);
void text_free(struct text *text);

/* JSON writing (RFC 8259), straight to a text: no tree in between, nothing to free but the text.
 *
 * A writer puts the commas; the caller opens and closes. Objects are written on one line unless a
 * line break is asked for, so that output of one object a line (JSON Lines) needs nothing special.
 */

struct json {
	struct text *out;
	bool comma; /* the next value or key needs one before it */
};

void json_open(struct json *json, const char *key,
	       char bracket); /* '{' or '['; key NULL in a list */
void json_close(struct json *json, char bracket);
void json_string(struct json *json, const char *key, const char *value); /* NULL is null */
void json_int(struct json *json, const char *key, int64_t value);
void json_bool(struct json *json, const char *key, bool value);

/* At most `decimals` decimals, no trailing zeros; a value that is not finite is null. */
void json_number(struct json *json, const char *key, double value, int decimals);

/* A line break and indentation before the next key or value. */
void json_line(struct json *json, int depth);

/* Text from outside as it may stand in XML and HTML, between tags and in quoted attributes. */

/* Adds the text with everything escaped that means something there. What XML does not take at all
 * becomes a space: control characters, line ends too, and the noncharacters U+FFFE and U+FFFF; a
 * byte that is no UTF-8 becomes U+FFFD. */
void markup_add(struct text *out, const char *text);

/* Memory that is either there or ends the program.
 *
 * What pullcall holds is small and bounded by the limits of its readers, so running out means that
 * the machine is in trouble. There is nothing better to do then than to stop at once: the journal
 * is on disk and the job goes on at the same call when the program is started again.
 */

/* Zeroed memory for count things of size bytes. */
void *memory_new(size_t count, size_t size);

/* Makes room for count things of size bytes; what is new is not zeroed. */
void *memory_resize(void *old, size_t count, size_t size);

/* A copy of text, and a copy of its first length bytes; the caller frees it. NULL gives NULL. */
char *memory_copy(const char *text);
char *memory_copy_part(const char *text, size_t length);

/* Frees *text and puts a copy of `with` in its place. */
void memory_replace(char **text, const char *with);

/* printf into new memory; the caller frees it. */
char *memory_format(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* Where files are found, by the XDG Base Directory specification.
 *
 * Our own data (patterns, phrasebooks) is looked for, first hit wins:
 *   1. the folder that $PULLCALL_PATTERNS or $PULLCALL_VOICE names
 *   2. $XDG_DATA_HOME/pullcall/KIND (~/.local/share/pullcall/KIND)
 *   3. ../share/pullcall/KIND, seen from the running program: an installed tree may be moved, and a
 * build tree is laid out the same way
 */

enum place_kind { PLACE_PATTERNS, PLACE_VOICE };

/* The path of NAME.yaml; the caller frees it. NULL if it is nowhere: *looked then lists the
 * folders, the caller frees that. `beside` is a file whose folder is looked in first, or NULL. */
char *place_find(enum place_kind kind, const char *name, const char *beside, char **looked);

/* The NAME of a file in the same folders whose name is nearly the same, for "did you mean"; the
 * caller frees it. NULL: there is none. */
char *place_nearest(enum place_kind kind, const char *name, const char *beside);

/* The folders of a kind in that order, each freed by the caller; returns how many (at most 3). */
int place_folders(enum place_kind kind, char *folders[static 3]);

/* $XDG_CONFIG_HOME/pullcall/NAME, $XDG_DATA_HOME/pullcall/NAME, and their defaults; NULL without a
 * HOME. The caller frees them. Nothing is created. */
char *place_config(const char *name);
char *place_data(const char *name);

/* $XDG_RUNTIME_DIR/pullcall, or NULL if the variable is not set; the caller frees it. */
char *place_runtime(void);

/* The folder of the running program; the caller frees it. NULL if /proc is not there. */
char *place_program(void);

/* Numbers with units, as people write them: "330 mm", "54 lb", "-2.5 kg", "640 cm2", "10 %", "350
 * ms".
 *
 * A quantity keeps the unit it was written in, because what is announced is what the stringer must
 * set on the machine. Conversion factors are exact: NIST SP 811, Appendix B (1 lbf
 * = 4.4482216152605 N, 1 kgf = 9.80665 N, 1 in = 25.4 mm).
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
 * and four after it; no exponent), one or more spaces, a unit of the dimension. False leaves *out
 * alone and *why says what was expected; the caller frees *why. */
bool quantity_parse(const char *text, enum dimension dimension, struct quantity *out, char **why);

/* The value in the dimension's base unit: mm, mm2, newton, 1 (percent / 100), s. */
double quantity_base(struct quantity quantity);

struct quantity quantity_convert(struct quantity quantity, enum unit unit);

/* a + b in a's unit, rounded to a hundredth of it: finer than any tension head is set. */
struct quantity quantity_sum(struct quantity a, struct quantity b);

/* Equal when printed: to a hundredth of a's unit. */
bool quantity_same(struct quantity a, struct quantity b);

enum dimension unit_dimension(enum unit unit);
const char *unit_name(enum unit unit);
bool unit_parse(const char *name, enum unit *out);

/* "54 lb", "24.5 kg": at most two decimals, no trailing zeros. Returns buffer. */
enum { QUANTITY_TEXT_MAX = 40 };
const char *quantity_text(struct quantity quantity, char buffer[static QUANTITY_TEXT_MAX]);

/* The number alone, the same way. */
const char *number_text(double value, char buffer[static QUANTITY_TEXT_MAX]);

/* Standard input, output and error, whoever started the program. */

/* To be called first in main: keeps the number of a standard file that was handed over closed,
 * which fails to be used as before. Else the next file opened, the journal say, would take that
 * number, and be read for keys or get the messages. */
void standard_files_open(void);

/* What is UTF-8 and what is not. */

/* The length of the well-formed UTF-8 sequence at `at` (Unicode 15, table 3-7), of which `left`
 * bytes are there; 0 if there is none. */
size_t utf8_length(const unsigned char *at, size_t left);

/* The strict reading of files that a person writes: a small tree of maps, lists and scalars with
 * positions.
 *
 * libfyaml scans; this room refuses what a bench file never needs and an accident or an attacker
 * might bring: files over 256 KiB, nesting over 16, anchors, aliases, tags, tabs, NUL, text that is
 * not UTF-8, duplicate keys, several documents. Scalars stay text until a reader below converts
 * them, and then strictly: nothing guesses that `yes` or `010` is a number.
 *
 * Readers report to the document's list of faults and return false; a caller may go on to find more
 * faults, and asks faults->errors at the end. All text belongs to the document.
 */

enum { YAML_BYTES_MAX = 256 * 1024, YAML_DEPTH_MAX = 16 };

enum yaml_kind { YAML_SCALAR, YAML_LIST, YAML_MAP };

struct yaml_node {
	enum yaml_kind kind;
	struct position position;
	char *text;                   /* scalar: its text, never NULL */
	bool plain;                   /* scalar: written without quotes */
	char *key;                    /* member of a map: its key, else NULL */
	struct position key_position; /* where that key stands */
	struct yaml_node *first;      /* list, map: the members, in order */
	struct yaml_node *next;
	struct yaml_document *document;
};

struct yaml_document {
	char *file;  /* as it appears in messages */
	char *bytes; /* the whole file as it was read */
	size_t length;
	struct yaml_node *root; /* always a map */
	struct faults *faults;
};

/* Reads a file ("-": standard input). NULL if it could not be read as YAML; the faults say why.
 * A system error (no such file, no permission) is a fault too. */
struct yaml_document *yaml_read(const char *path, struct faults *faults);

/* The same for text in memory, which is copied. */
struct yaml_document *yaml_read_bytes(const char *file, const char *bytes, size_t length,
				      struct faults *faults);

/* The same for one JSON object (RFC 8259): what a control socket hears. */
struct yaml_document *yaml_read_json(const char *file, const char *bytes, size_t length,
				     struct faults *faults);
void yaml_free(struct yaml_document *document);

/* The member of a map, or NULL. yaml_need reports a missing one. */
struct yaml_node *yaml_get(const struct yaml_node *map, const char *key);
struct yaml_node *yaml_need(const struct yaml_node *map, const char *key);

/* That node is a map. Keys other than these (ended by NULL) are reported with the nearest valid
 * one, each; what is known can still be read, so that all faults are found in one go. NULL is false
 * and silent. */
bool yaml_is_map(const struct yaml_node *node, const char *const *keys);
bool yaml_is_list(const struct yaml_node *node);

/* Conversions. A NULL node is false and silent, so that yaml_get and yaml_need can be passed on;
 * *out is left alone on failure. A text is one line of at most length_max bytes, without control
 * characters. */
bool yaml_text(const struct yaml_node *node, size_t length_max, const char **out);
bool yaml_int(const struct yaml_node *node, int min, int max, int *out);
bool yaml_bool(const struct yaml_node *node, bool *out); /* yes | no */
bool yaml_choice(const struct yaml_node *node, const char *const *names, int *out);
bool yaml_quantity(const struct yaml_node *node, enum dimension dimension, struct quantity *out);

/* A fault at a node (at its value; yaml_fault_key: at its key). */
void yaml_fault(const struct yaml_node *node, const char *code, const char *format, ...)
	__attribute__((format(printf, 3, 4)));
void yaml_fault_key(const struct yaml_node *node, const char *code, const char *format, ...)
	__attribute__((format(printf, 3, 4)));
void yaml_warn(const struct yaml_node *node, const char *code, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

#endif
