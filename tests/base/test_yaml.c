/* The strict reader: every refusal with its place and words, and nothing that gets through by
 * accident. */
#include "base/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static char *printed(const struct faults *faults)
{
	char *text = NULL;
	size_t length = 0;
	FILE *out = open_memstream(&text, &length);

	faults_print(faults, out);
	fclose(out);
	return text;
}

static struct yaml_document *read_text(const char *text, struct faults *faults)
{
	return yaml_read_text("t.yaml", text, faults);
}

static void expect_refused(const char *text, const char *message)
{
	struct faults faults = {0};

	assert_null(read_text(text, &faults));
	char *told = printed(&faults);
	if (!strstr(told, message))
		fail_msg("expected \"%s\" in: %s", message, told);
	assert_int_equal(faults.errors, 1);
	free(told);
	faults_free(&faults);
}

static void a_tree_has_positions(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct yaml_document *document =
		read_text("a: 1\nb: [ x, {c: y} ]\n# note\nd:\n  e: 'f g'\n", &faults);
	assert_non_null(document);
	struct yaml_node *b = yaml_get(document->root, "b");
	assert_int_equal(b->kind, YAML_LIST);
	assert_int_equal(b->key_position.line, 2);
	assert_int_equal(b->key_position.column, 1);
	assert_int_equal(b->position.column, 4);
	assert_string_equal(b->first->text, "x");
	assert_int_equal(b->first->position.column, 6);
	assert_string_equal(yaml_get(b->first->next, "c")->text, "y");
	struct yaml_node *e = yaml_get(yaml_get(document->root, "d"), "e");
	assert_string_equal(e->text, "f g");
	assert_false(e->plain);
	assert_int_equal(e->position.line, 5);
	assert_int_equal(e->position.column, 6);
	assert_null(yaml_get(document->root, "c"));
	assert_string_equal(yaml_scalar(document->root, "a"), "1");
	assert_string_equal(yaml_scalar(document->root, "d/e"), "f g");
	assert_null(yaml_scalar(document->root, "d"));
	assert_null(yaml_scalar(document->root, "a/e"));
	assert_null(yaml_scalar(document->root, "d/c"));
	assert_null(yaml_scalar(NULL, "a"));
	yaml_free(document);
	faults_free(&faults);
}

static void what_is_refused(void **state)
{
	(void)state;
	static const struct {
		const char *text;
		const char *message;
	} cases[] = {
		{"", "t.yaml:1:1: error: the file is empty [file-empty]"},
		{"# only a comment\n", "the file is empty"},
		{"word\n", "t.yaml:1:1: error: expected lines of \"key: value\" [file-empty]"},
		{"- a\n", "expected lines of"},
		{"a: 1\nb: 2\na: 3\n",
		 "t.yaml:3:1: error: duplicate key \"a\": it is on line 1 already "
		 "[key-duplicate]"},
		{"a: {b: 1, b: 2}\n", "t.yaml:1:11: error: duplicate key \"b\""},
		{"a:\n\tb: 1\n",
		 "t.yaml:2:1: error: a tab: indent and separate with spaces [file-text]"},
		{"a: &x 1\nb: *x\n",
		 "t.yaml:1:7: error: anchors, aliases and tags are not used here"},
		{"a: *x\n", "anchors, aliases and tags are not used here"},
		{"a: !!int 1\n", "anchors, aliases and tags are not used here"},
		{"a: 1\n---\nb: 2\n", "a second document"},
		{"? [a, b]\n: 1\n", "a key must be a plain word"},
		{"a: \xff\n", "t.yaml:1:4: error: not UTF-8"},
		{"a: \xc0\x80\n", "not UTF-8"},         /* an overlong NUL */
		{"a: \xed\xa0\x80\n", "not UTF-8"},     /* a surrogate */
		{"a: \xf4\x90\x80\x80\n", "not UTF-8"}, /* beyond U+10FFFF */
		{"a: \x1b[31m\n", "a control character"},
		{"a: \"\\0\"\n", "a NUL byte in a text"},
		{"a: [1, 2\n", "[yaml-syntax]"},
		{"a: 'open\n", "[yaml-syntax]"},
		{"a: b: c\n", "a colon inside a value: write the value in quotes [yaml-syntax]"},
		{"a: 1\n  b: 2\n",
		 "the next line is indented too far: keys of one map begin in the "
		 "same column [yaml-syntax]"},
		{"a: {b: 1 \"c\": 2}\n",
		 "expected a comma between two keys, or the closing bracket "
		 "[yaml-syntax]"},
		{"a: [[[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]]]\n",
		 "nested too deep: at most 16 levels are read [file-depth]"},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		expect_refused(cases[i].text, cases[i].message);
}

/* A number sign that was meant: with no space behind it, it is likely to belong to the value. */
static void a_comment_that_may_be_part_of_the_value_is_warned_of(void **state)
{
	static const struct {
		const char *text, *message; /* NULL: none */
	} cases[] = {
		{"a: club #12\n",
		 "write \"club #12\" in quotes if it belongs to it [value-comment]"},
		{"a: club #12 \nb: 1\n", "write \"club #12\" in quotes"},
		{"a: #12\n", "write \"#12\" in quotes"},
		{"a: club # twelve\n", NULL},
		{"a: club\n", NULL},
		{"a: \"club #12\"\n", NULL},
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		struct faults faults = {0};
		struct yaml_document *document = read_text(cases[i].text, &faults);
		char *told = printed(&faults);
		assert_non_null(document);
		assert_int_equal(faults.count, cases[i].message != NULL);
		if (cases[i].message && !strstr(told, cases[i].message))
			fail_msg("expected \"%s\" in: %s", cases[i].message, told);
		free(told);
		yaml_free(document);
		faults_free(&faults);
	}
}

static void a_text_has_one_line_and_so_many_bytes(void **state)
{
	static const struct {
		const char *text, *message; /* NULL: it is read */
	} cases[] = {
		{"a: abc\n", NULL},
		{"a: abcd\n", "t.yaml:1:4: error: longer than 3 bytes [value-length]"},
		{"a: \"\xc3\xa9\xc3\xa9\"\n", "longer than 3 bytes"},
		{"a: \"b\\nc\"\n", "expected a text of one line without control characters "
				   "[value-control]"},
		{"a: \"\\u0085\"\n", "[value-control]"}, /* a line end of Unicode */
		{"a: [b]\n", "expected a text"},
		{"a:\n", "expected a text"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		struct faults faults = {0};
		struct yaml_document *document = read_text(cases[i].text, &faults);
		const char *text = NULL;
		assert_non_null(document);
		bool good = yaml_text(yaml_get(document->root, "a"), 3, &text);
		assert_int_equal(good, !cases[i].message);
		char *told = printed(&faults);
		if (good)
			assert_string_equal(text, "abc");
		else if (!strstr(told, cases[i].message))
			fail_msg("expected \"%s\" in: %s", cases[i].message, told);
		free(told);
		yaml_free(document);
		faults_free(&faults);
	}
}

static void size_and_depth_are_bounded(void **state)
{
	(void)state;
	enum { HUGE_BYTES = 10 * 1024 * 1024, DEEP = 10000 };
	char *huge = memory_new(HUGE_BYTES + 1, 1);
	memset(huge, 'a', HUGE_BYTES);
	expect_refused(huge, "larger than 256 KiB");
	free(huge);

	struct text deep = {0};
	text_add(&deep, "a: ");
	for (int i = 0; i < DEEP; i++)
		text_add_char(&deep, '[');
	expect_refused(deep.bytes, "nested too deep");
	text_clear(&deep);
	for (int i = 0; i < 700; i++)
		text_format(&deep, "%*sa:\n", i, "");
	expect_refused(deep.bytes, "nested too deep");
	text_free(&deep);
}

static void an_alias_bomb_is_cheap(void **state)
{
	(void)state;
	struct text bomb = {0};
	text_add(&bomb, "a0: &a0 [x, x, x, x, x, x, x, x, x]\n");
	for (int i = 1; i < 9; i++)
		text_format(&bomb, "a%d: &a%d [*a%d, *a%d, *a%d, *a%d]\n", i, i, i - 1, i - 1,
			    i - 1, i - 1);
	expect_refused(bomb.bytes, "anchors, aliases and tags are not used here");
	text_free(&bomb);
}

static void files_that_cannot_be_read(void **state)
{
	(void)state;
	struct faults faults = {0};
	assert_null(yaml_read("/no/such/file.yaml", &faults));
	assert_null(yaml_read("/tmp", &faults));
	char *text = printed(&faults);
	assert_non_null(strstr(text, "/no/such/file.yaml: error: No such file or directory"));
	assert_non_null(strstr(text, "/tmp: error: Is a directory"));
	free(text);
	faults_free(&faults);
}

static void an_endless_file_ends(void **state)
{
	(void)state;
	struct faults faults = {0};
	assert_null(yaml_read("/dev/zero", &faults));
	assert_int_equal(faults.errors, 1);
	faults_free(&faults);
}

static void texts_are_one_printable_line(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct yaml_document *document =
		read_text("good: \"Zo\\u00eb \\u2014 \\u00a0\"\nesc: \"\\e[31m\"\ntwo: \"a\\nb\"\n"
			  "del: \"\\x7f\"\nc1: \"\\u009b31m\"\n",
			  &faults);
	const char *text = NULL;

	assert_true(yaml_text(yaml_get(document->root, "good"), 80, &text));
	assert_string_equal(text, "Zo\xc3\xab \xe2\x80\x94 \xc2\xa0");
	static const char *const wrong[] = {"esc", "two", "del", "c1"};
	for (size_t i = 0; i < sizeof(wrong) / sizeof(wrong[0]); i++) {
		assert_false(yaml_text(yaml_get(document->root, wrong[i]), 80, &text));
		assert_int_equal(faults.errors, i + 1);
		assert_string_equal(faults.items[i].code, "value-control");
	}
	yaml_free(document);
	faults_free(&faults);
}

static void scalars_are_converted_strictly(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct yaml_document *document =
		read_text("n: 16\noct: 010\nplus: +3\nfar: 99\nhex: 0x10\nfloat: 1.0\nyes: yes\n"
			  "true: true\nempty:\nlist: [1]\nneg: -3\nhuge: 12345678901\n",
			  &faults);
	struct yaml_node *root = document->root;
	int value = -77;
	bool flag = false;
	const struct yaml_row row = {.yes = &flag};

	assert_true(yaml_int(yaml_get(root, "n"), 1, 50, &value));
	assert_int_equal(value, 16);
	assert_true(yaml_int(yaml_get(root, "neg"), -5, 50, &value));
	assert_int_equal(value, -3);
	assert_true(yaml_read_value(yaml_get(root, "yes"), &row));
	assert_true(flag);
	assert_int_equal(faults.errors, 0);

	static const char *const wrong[] = {"oct",  "plus",  "far",  "hex", "float",
					    "true", "empty", "list", "huge"};
	value = -77;
	for (size_t i = 0; i < sizeof(wrong) / sizeof(wrong[0]); i++) {
		assert_false(yaml_int(yaml_get(root, wrong[i]), 1, 50, &value));
		assert_int_equal(faults.errors, i + 1);
	}
	assert_int_equal(value, -77);
	assert_false(yaml_read_value(yaml_get(root, "true"), &row));
	assert_false(yaml_int(NULL, 0, 1, &value));
	assert_int_equal(faults.errors, 10);
	yaml_free(document);
	faults_free(&faults);
}

static void keys_are_checked(void **state)
{
	(void)state;
	static const char *const keys[] = {"mains", "crosses", "bridge", NULL};
	struct faults faults = {0};
	struct yaml_document *document = read_text("mains: 16\ncroses: 19\nzebra: 1\n", &faults);

	assert_true(yaml_is_map(document->root, keys));
	assert_null(yaml_need(document->root, "bridge"));
	char *text = printed(&faults);
	assert_string_equal(text,
			    "t.yaml:1:1: error: key \"bridge\" is missing [key-missing]\n"
			    "t.yaml:2:1: error: unknown key \"croses\": did you mean \"crosses\"? "
			    "[key-unknown]\n"
			    "t.yaml:3:1: error: unknown key \"zebra\": expected mains, crosses or "
			    "bridge [key-unknown]\n");
	free(text);
	yaml_free(document);
	faults_free(&faults);
}

/* Random damage to a good file: never a crash (the sanitizers watch), never a fault without words.
 */
static void random_damage_never_crashes(void **state)
{
	(void)state;
	static const char good[] = "pattern: a\nholes: { head: 18, throat: 17 }\nskip: [7H, 9H]\n"
				   "text: \"quoted \\u00e9\"\nblock: |\n  one\n  two\n";
	static const char spice[] = "{}[]:,-?&*!|>'\"%@`#\n \t\\\x80\xff";
	uint32_t seed = 20261125;

	for (int round = 0; round < 20000; round++) {
		char bytes[sizeof(good)];
		size_t length = sizeof(good) - 1;
		memcpy(bytes, good, sizeof(good));
		for (int hit = 0; hit < 3; hit++) {
			seed = seed * 1664525u + 1013904223u;
			size_t place = (seed >> 8) % length;
			seed = seed * 1664525u + 1013904223u;
			bytes[place] = spice[(seed >> 8) % (sizeof(spice) - 1)];
		}
		struct faults faults = {0};
		struct yaml_document *document = yaml_read_text("f", bytes, &faults);
		assert_true((document != NULL) == (faults.errors == 0));
		yaml_free(document);
		faults_free(&faults);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_tree_has_positions),
		cmocka_unit_test(what_is_refused),
		cmocka_unit_test(a_comment_that_may_be_part_of_the_value_is_warned_of),
		cmocka_unit_test(a_text_has_one_line_and_so_many_bytes),
		cmocka_unit_test(size_and_depth_are_bounded),
		cmocka_unit_test(an_alias_bomb_is_cheap),
		cmocka_unit_test(files_that_cannot_be_read),
		cmocka_unit_test(an_endless_file_ends),
		cmocka_unit_test(texts_are_one_printable_line),
		cmocka_unit_test(scalars_are_converted_strictly),
		cmocka_unit_test(keys_are_checked),
		cmocka_unit_test(random_damage_never_crashes),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
