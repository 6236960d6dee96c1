/* The files: each format is what it says it is, and none is ever left half written. */
#include "draw/drawn.h"

#include "base/base.h"

#include <cairo.h>
#include <dirent.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static struct draw_options plain, card = {.card = true};

static struct drawn_work work;

static char *path_in(void **state, const char *name)
{
	return memory_format("%s/%s", (const char *)*state, name);
}

/* What a program prints; fails the test if it cannot be run. */
static char *output_of(const char *command, const char *path)
{
	char *line = memory_format("%s '%s'", command, path);
	FILE *pipe = popen(line, "re"); /* NOLINT(cert-env33-c): a path of mkdtemp */
	char *out = memory_new(1, 65536);

	assert_non_null(pipe);
	size_t length = fread(out, 1, 65535, pipe);
	out[length] = '\0';
	if (pclose(pipe) != 0)
		fail_msg("%s failed: is poppler-utils installed?", line);
	free(line);
	return out;
}

static void draw(const char *path, enum exit_code expected, const char *code)
{
	struct faults faults = {0};

	assert_int_equal(draw_bed(work.sequence, &plain, path, &faults), expected);
	if (code) {
		assert_int_equal(faults.errors, 1);
		assert_string_equal(faults.items[0].code, code);
		assert_string_equal(faults.items[0].file, path);
	} else {
		assert_int_equal(faults.count, 0);
	}
	faults_free(&faults);
}

static void pdf_is_one_a4_page_with_text(void **state)
{
	char *path = path_in(state, "bed.pdf");

	draw(path, EXIT_DONE, NULL);
	char *facts = output_of("pdfinfo", path);
	assert_non_null(strstr(facts, "Pages:           1\n"));
	assert_non_null(strstr(facts, "(A4)"));
	char *words = output_of("pdftotext -raw", path);
	free(words);
	words = path_in(state, "bed.txt");
	size_t length;
	char *text = drawn_bytes(words, &length);
	assert_non_null(text);
	assert_non_null(strstr(text, "18H"));
	assert_non_null(strstr(text, work.pattern->title));
	free(text);
	free(words);
	free(facts);
	free(path);
}

static void card_is_one_page(void **state)
{
	struct faults faults = {0};
	char *path = path_in(state, "card.PDF"); /* the suffix in either case */

	assert_int_equal(draw_bed(work.sequence, &card, path, &faults), EXIT_DONE);
	char *facts = output_of("pdfinfo", path);
	assert_non_null(strstr(facts, "Pages:           1\n"));
	free(facts);
	free(path);
}

/* 72 points to the inch of 25.4 mm. */
static void label_has_its_size(void **state)
{
	const struct label label = {
		.book = plain.book, .width_mm = 62, .height_mm = 29, .date = "26 Nov 2026"};
	struct faults faults = {0};
	char *path = path_in(state, "label.pdf");

	assert_int_equal(draw_label(work.job, work.pattern, &label, path, &faults), EXIT_DONE);
	char *facts = output_of("pdfinfo", path);
	assert_non_null(strstr(facts, "Pages:           1\n"));
	assert_non_null(strstr(facts, "175.748 x 82.2047 pts"));
	assert_int_equal(draw_label(work.job, work.pattern, &label, "label.txt", &faults),
			 EXIT_USAGE);
	free(facts);
	free(path);
	faults_free(&faults);
}

/* Ink is there, and paper: the share of dark dots is that of a drawing. */
static void png_is_a_drawing(void **state)
{
	char *path = path_in(state, "bed.png");

	draw(path, EXIT_DONE, NULL);
	cairo_surface_t *surface = cairo_image_surface_create_from_png(path);
	assert_int_equal(cairo_surface_status(surface), CAIRO_STATUS_SUCCESS);
	int width = cairo_image_surface_get_width(surface);
	int height = cairo_image_surface_get_height(surface);
	int stride = cairo_image_surface_get_stride(surface);
	const unsigned char *data = cairo_image_surface_get_data(surface);
	long dark = 0, light = 0;
	for (int y = 0; y < height; y++) {
		for (int x = 0; x < width; x++) {
			unsigned char green = data[y * stride + 4 * x + 1];
			dark += green < 0x60;
			light += green > 0xF0;
		}
	}
	assert_int_equal(width, 1654); /* A4 at 200 dots to the inch */
	assert_int_equal(height, 2339);
	assert_true(dark > width * height / 100);
	assert_true(light > width * height / 2L);
	cairo_surface_destroy(surface);
	free(path);
}

static int count_files(const char *folder)
{
	struct dirent **entries;
	int count = scandir(folder, &entries, NULL, NULL);

	assert_true(count >= 0);
	for (int i = 0; i < count; i++)
		free(entries[i]);
	free(entries);
	return count - 2;
}

static void assert_content(const char *path, const char *content)
{
	size_t length;
	char *bytes = drawn_bytes(path, &length);

	assert_non_null(bytes);
	assert_string_equal(bytes, content);
	free(bytes);
}

static void put(const char *path, const char *content)
{
	FILE *file = fopen(path, "we");

	assert_non_null(file);
	fputs(content, file);
	fclose(file);
}

static void bad_names(void **state)
{
	static const char *const names[] = {"bed", "bed.jpg", "bed.svgz", ".svg.", "png", ""};
	char *folder = path_in(state, "names");

	assert_int_equal(mkdir(folder, 0777), 0);
	for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++) {
		char *path = memory_format("%s/%s", folder, names[i]);
		draw(path, EXIT_USAGE, "draw-format");
		free(path);
	}
	assert_int_equal(count_files(folder), 0);
	free(folder);
}

static void nowhere_to_write(void **state)
{
	char *file = path_in(state, "a-file");
	char *under_file = path_in(state, "a-file/bed.svg");
	char *no_folder = path_in(state, "none/bed.svg");
	char *folder = path_in(state, "folder.svg");

	put(file, "mine");
	assert_int_equal(mkdir(folder, 0777), 0);
	draw(under_file, EXIT_IO, "draw-write");
	draw(no_folder, EXIT_IO, "draw-write");
	draw(folder, EXIT_IO, "draw-write");
	draw("/proc/bed.svg", EXIT_IO, "draw-write");
	assert_content(file, "mine");
	assert_int_equal(count_files(folder), 0);
	free(file);
	free(under_file);
	free(no_folder);
	free(folder);
}

/* What a folder and a file without permission to write do; root may write everywhere, so that part
 * runs as nobody, in a child. */
static void no_permission(void **state)
{
	char *folder = path_in(state, "locked");
	char *path = path_in(state, "locked/bed.svg");
	char *old = path_in(state, "read-only.svg");
	int status;

	assert_int_equal(mkdir(folder, 0755), 0);
	put(old, "mine");
	assert_int_equal(chmod(old, 0444), 0);
	assert_int_equal(chmod(*state, 0777), 0);
	if (getuid() != 0)
		assert_int_equal(chmod(folder, 0555), 0);
	pid_t child = fork();
	if (child == 0) {
		struct faults faults = {0};
		if (getuid() == 0 && setuid(65534) != 0)
			_exit(3);
		bool refused = draw_bed(work.sequence, &plain, path, &faults) == EXIT_IO &&
			       draw_bed(work.sequence, &plain, old, &faults) == EXIT_IO;
		_exit(refused && faults.errors == 2 ? 0 : 1);
	}
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_int_equal(status, 0);
	assert_int_equal(count_files(folder), 0);
	assert_content(old, "mine");
	free(folder);
	free(path);
	free(old);
}

/* Half-way through every format the disk is full: what was there stays, nothing is left behind. */
static void full_disk(void **state)
{
	static const char *const names[] = {"full.svg", "full.pdf", "full.png"};
	char *folder = path_in(state, "full");
	struct rlimit limit, small;

	assert_int_equal(mkdir(folder, 0777), 0);
	getrlimit(RLIMIT_FSIZE, &limit);
	for (int i = 0; i < 3; i++) {
		char *path = memory_format("%s/%s", folder, names[i]);
		put(path, "mine");
		small = (struct rlimit){5000, limit.rlim_max};
		setrlimit(RLIMIT_FSIZE, &small);
		draw(path, EXIT_IO, "draw-write");
		setrlimit(RLIMIT_FSIZE, &limit);
		assert_content(path, "mine");
		assert_int_equal(count_files(folder), i + 1);
		free(path);
	}
	free(folder);
}

static void full_device(void **state)
{
	char *link_path = path_in(state, "link.svg");

	assert_int_equal(symlink("/dev/full", link_path), 0);
	draw(link_path, EXIT_IO, "draw-write");
	struct stat device;
	assert_int_equal(stat("/dev/full", &device), 0);
	assert_true(S_ISCHR(device.st_mode));
	free(link_path);
}

static void replaces_what_was_there(void **state)
{
	char *path = path_in(state, "old.svg"), *link_path = path_in(state, "to-old.svg");
	struct stat info;

	put(path, "old");
	assert_int_equal(chmod(path, 0640), 0);
	assert_int_equal(symlink("old.svg", link_path), 0);
	draw(link_path, EXIT_DONE, NULL);
	assert_int_equal(lstat(link_path, &info), 0);
	assert_true(S_ISLNK(info.st_mode));
	assert_int_equal(stat(path, &info), 0);
	assert_int_equal(info.st_mode & 07777, 0640);
	assert_true(info.st_size > 10000);
	free(path);
	free(link_path);
}

static void new_file_has_usual_mode(void **state)
{
	char *path = path_in(state, "new.svg");
	struct stat info;

	mode_t mask = umask(027);
	draw(path, EXIT_DONE, NULL);
	umask(mask);
	assert_int_equal(stat(path, &info), 0);
	assert_int_equal(info.st_mode & 07777, 0640);
	free(path);
}

/* Without the program that makes the other formats, SVG goes on. */
static void no_converter(void **state)
{
	char *paths[] = {path_in(state, "none.pdf"), path_in(state, "none.png"),
			 path_in(state, "none.svg")};
	char *before = memory_copy(getenv("PATH"));
	size_t length;

	setenv("PATH", *state, 1);
	for (int i = 0; i < 2; i++) {
		draw(paths[i], EXIT_UNAVAILABLE, "draw-picture");
		assert_null(drawn_bytes(paths[i], &length));
	}
	draw(paths[2], EXIT_DONE, NULL);
	char *broken = path_in(state, "rsvg-convert");
	put(broken, "#!/bin/sh\nexit 1\n");
	assert_int_equal(chmod(broken, 0755), 0);
	draw(paths[0], EXIT_SYSTEM, "draw-picture");
	unlink(broken);
	setenv("PATH", before, 1);
	free(broken);
	free(before);
	for (int i = 0; i < 3; i++)
		free(paths[i]);
}

/* A title that tries to break out, or the page. */
static void hostile_title(void **state)
{
	char title[161];
	char *keep = work.pattern->title;
	struct picture picture;

	memset(title, 'W', sizeof(title) - 1);
	memcpy(title, "</title><script>&\"'\xEF\xBF\xBE", 22);
	title[sizeof(title) - 1] = '\0';
	work.pattern->title = title;
	drawn_picture(*state, work.sequence, NULL, &picture);
	for (int i = 0; i < picture.count; i++)
		assert_string_not_equal(picture.items[i].name, "script");
	int text = picture_inside(&picture, 0, "title", NULL);
	assert_non_null(strstr(picture.items[text].text, "</title><script>&\"'"));
	text = picture_inside(&picture, 0, "text", NULL);
	assert_non_null(strstr(picture.items[text].text, "…")); /* cut to the page */
	picture_free(&picture);
	work.pattern->title = keep;
}

static bool says(const struct picture *picture, const char *words)
{
	for (int i = 0; i < picture->count; i++)
		if (strstr(picture->items[i].text, words))
			return true;
	return false;
}

static void bare_pattern_without_head(void **state)
{
	char *path = path_in(state, "bare.svg");
	struct head head = work.pattern->head;
	struct faults faults = {0};
	struct picture picture;
	size_t length;

	for (int given = 0; given < 2; given++) {
		work.pattern->head = given ? head : (struct head){.beam_mm = 12};
		assert_int_equal(draw_pattern(work.pattern, &plain, path, &faults), EXIT_DONE);
		assert_int_equal(faults.count, 0);
		char *bytes = drawn_bytes(path, &length);
		assert_true(picture_read(bytes, length, &picture));
		assert_int_equal(says(&picture, "Not to scale"), !given);
		assert_int_equal(says(&picture, "100 mm"), given);
		free(bytes);
		picture_free(&picture);
	}
	free(path);
}

static void own_words_for_the_sides(void **state)
{
	const struct phrase_options manner = {.side_words = {"tape side", "plain side"}};
	struct draw_options options = {.manner = &manner};
	struct picture picture;

	drawn_picture(*state, work.sequence, &options, &picture);
	assert_true(says(&picture, "tape side") && says(&picture, "plain side"));
	for (int i = 0; i < picture.count; i++)
		assert_string_not_equal(picture.items[i].text, "left");
	picture_free(&picture);
}

static int setup(void **state)
{
	drawn_open(&work, "open-16x19", 0);
	plain.book = card.book = drawn_book();
	return drawn_folder(state);
}

static int teardown(void **state)
{
	drawn_close(&work);
	return drawn_folder_gone(state);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(pdf_is_one_a4_page_with_text),
		cmocka_unit_test(card_is_one_page),
		cmocka_unit_test(label_has_its_size),
		cmocka_unit_test(png_is_a_drawing),
		cmocka_unit_test(bad_names),
		cmocka_unit_test(nowhere_to_write),
		cmocka_unit_test(no_permission),
		cmocka_unit_test(full_disk),
		cmocka_unit_test(full_device),
		cmocka_unit_test(replaces_what_was_there),
		cmocka_unit_test(new_file_has_usual_mode),
		cmocka_unit_test(no_converter),
		cmocka_unit_test(hostile_title),
		cmocka_unit_test(bare_pattern_without_head),
		cmocka_unit_test(own_words_for_the_sides),
	};
	return cmocka_run_group_tests(tests, setup, teardown);
}
