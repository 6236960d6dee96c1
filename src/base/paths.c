/* Where files are looked for, by the XDG Base Directory specification. */
#include "base/base.h"

#include <dirent.h>
#include <libgen.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const struct {
	const char *folder;
	const char *variable;
} kinds[] = {
	[PATH_PATTERNS] = {"patterns", "PULLCALL_PATTERNS"},
	[PATH_VOICE] = {"voice", "PULLCALL_VOICE"},
};

static const char *set_variable(const char *name)
{
	const char *value = getenv(name);

	return value && *value ? value : NULL;
}

/* The specification: a relative path in an XDG variable is ignored. */
static char *under_home(const char *variable, const char *otherwise, const char *name)
{
	const char *base = set_variable(variable);

	if (base && *base == '/')
		return memory_format("%s/pullcall/%s", base, name);
	const char *home = set_variable("HOME");
	return home ? memory_format("%s/%s/pullcall/%s", home, otherwise, name) : NULL;
}

char *path_config(const char *name)
{
	return under_home("XDG_CONFIG_HOME", ".config", name);
}

char *path_data(const char *name)
{
	return under_home("XDG_DATA_HOME", ".local/share", name);
}

char *path_runtime(void)
{
	const char *base = set_variable("XDG_RUNTIME_DIR");

	return base && *base == '/' ? memory_format("%s/pullcall", base) : NULL;
}

/* NAME in the folder of the running program; NULL if /proc is not there. */
static char *beside_program(const char *name)
{
	char path[PATH_MAX];
	ssize_t length = readlink("/proc/self/exe", path, sizeof path - 1);

	if (length <= 0)
		return NULL;
	path[length] = '\0';
	return memory_format("%s/%s", dirname(path), name);
}

void path_become(const char *name, char **arguments)
{
	char *path = beside_program(name);

	if (path)
		execv(path, arguments);
	execvp(name, arguments);
	free(path);
}

enum { FOLDERS_MAX = 4 };

/* The folders to look in, in this order; returns how many. The caller frees them. */
static int search_folders(enum path_kind kind, const char *beside,
			  char *folders[static FOLDERS_MAX])
{
	int count = 0;
	const char *named = set_variable(kinds[kind].variable);
	char *file = memory_copy(beside);
	char *users = path_data(kinds[kind].folder);
	char *shared = beside_program("../share/pullcall");

	if (file)
		folders[count++] = memory_copy(dirname(file));
	if (named)
		folders[count++] = memory_copy(named);
	if (users)
		folders[count++] = users;
	if (shared)
		folders[count++] = memory_format("%s/%s", shared, kinds[kind].folder);
	free(file);
	free(shared);
	return count;
}

char *path_find(enum path_kind kind, const char *name, const char *beside, char **looked)
{
	struct text tried = {0};
	char *folders[FOLDERS_MAX], *found = NULL;
	int count = search_folders(kind, beside, folders);

	for (int i = 0; i < count; i++) {
		char *path = memory_format("%s/%s.yaml", folders[i], name);
		text_format(&tried, "%s%s", i ? ", " : "", folders[i]);
		if (!found && access(path, F_OK) == 0)
			found = memory_copy(path);
		free(path);
		free(folders[i]);
	}
	if (looked)
		*looked = found ? NULL : text_take(&tried);
	text_free(&tried);
	return found;
}

/* Adds the NAME of each NAME.yaml in the folder, and frees folder; *names is ended by NULL. */
static void add_names(char *folder, char ***names, size_t *count)
{
	DIR *entries = opendir(folder);
	const struct dirent *entry;

	free(folder);
	while (entries && (entry = readdir(entries))) {
		const char *end = strrchr(entry->d_name, '.');
		if (!end || strcmp(end, ".yaml") != 0)
			continue;
		*names = memory_resize(*names, *count + 2, sizeof(**names));
		(*names)[(*count)++] =
			memory_copy_part(entry->d_name, (size_t)(end - entry->d_name));
		(*names)[*count] = NULL;
	}
	if (entries)
		closedir(entries);
}

static int compare_names(const void *a, const void *b)
{
	return strcmp(*(char *const *)a, *(char *const *)b);
}

char **path_names(enum path_kind kind, const char *beside)
{
	char *folders[FOLDERS_MAX];
	int folder_count = search_folders(kind, beside, folders);
	char **names = memory_new(1, sizeof(*names));
	size_t count = 0;

	for (int i = 0; i < folder_count; i++)
		add_names(folders[i], &names, &count);
	qsort(names, count, sizeof(*names), compare_names);
	size_t kept = 0;
	for (size_t i = 0; i < count; i++)
		if (kept > 0 && strcmp(names[kept - 1], names[i]) == 0)
			free(names[i]);
		else
			names[kept++] = names[i];
	names[kept] = NULL;
	return names;
}

/* The "16x19" that a pattern's name ends with, or "". */
static const char *counts_in(const char *name)
{
	static const char digits[] = "0123456789";

	name += strcspn(name, digits);
	return strspn(name, digits) == 2 && name[2] == 'x' && strspn(name + 3, digits) == 2 ? name
											    : "";
}

char *path_nearest(enum path_kind kind, const char *name, const char *beside)
{
	char **names = path_names(kind, beside);
	char *stem = memory_copy_part(name, strcspn(name, ".")); /* without .yaml */
	const char *meant = fault_did_you_mean(stem, (const char *const *)names);
	const char *counts = counts_in(stem);
	bool misspelt = meant && (!*counts || strstr(meant, counts));
	struct text same = {0};

	/* All that have its counts of strings, or else that it is a part of. */
	for (char **at = names; *at && !misspelt; at++)
		if (strstr(*at, *counts ? counts : stem))
			text_format(&same, "%s%s", same.length ? "\" or \"" : "", *at);
	char *nearest = same.length ? text_take(&same) : memory_copy(meant);
	for (char **at = names; *at; at++)
		free(*at);
	free(names);
	free(stem);
	return nearest;
}
