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
#ifndef BASE_YAML_H
#define BASE_YAML_H

#include "base/fault.h"
#include "base/quantity.h"

#include <stdbool.h>
#include <stddef.h>

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
