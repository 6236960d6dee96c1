#include "base/base.h"

#include <dirent.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const struct {
	const char *folder;
	const char *variable;
} kinds[] = {
	[PLACE_PATTERNS] = {"patterns", "PULLCALL_PATTERNS"},
	[PLACE_VOICE] = {"voice", "PULLCALL_VOICE"},
};

static const char *set_variable(const char *name)
{
	const char *value = getenv(name);

	return value && *value ? value : NULL;
}

/* A relative path in an XDG variable must be ignored, says the specification. */
static char *under_home(const char *variable, const char *otherwise, const char *name)
{
	const char *base = set_variable(variable);

	if (base && *base == '/')
		return memory_format("%s/pullcall/%s", base, name);
	const char *home = set_variable("HOME");
	return home ? memory_format("%s/%s/pullcall/%s", home, otherwise, name) : NULL;
}

char *place_config(const char *name)
{
	return under_home("XDG_CONFIG_HOME", ".config", name);
}

char *place_data(const char *name)
{
	return under_home("XDG_DATA_HOME", ".local/share", name);
}

char *place_runtime(void)
{
	const char *base = set_variable("XDG_RUNTIME_DIR");

	return base && *base == '/' ? memory_format("%s/pullcall", base) : NULL;
}

char *place_program(void)
{
	char path[PATH_MAX];
	ssize_t length = readlink("/proc/self/exe", path, sizeof(path) - 1);

	if (length <= 0)
		return NULL;
	path[length] = '\0';
	char *slash = strrchr(path, '/');
	if (slash)
		*slash = '\0';
	return memory_copy(path);
}

int place_folders(enum place_kind kind, char *folders[static 3])
{
	int count = 0;
	const char *named = set_variable(kinds[kind].variable);
	char *users = place_data(kinds[kind].folder);
	char *program = place_program();

	if (named)
		folders[count++] = memory_copy(named);
	if (users)
		folders[count++] = users;
	if (program)
		folders[count++] =
			memory_format("%s/../share/pullcall/%s", program, kinds[kind].folder);
	free(program);
	return count;
}

static char *folder_of(const char *file)
{
	const char *slash = strrchr(file, '/');

	return slash ? memory_copy_part(file, (size_t)(slash - file)) : memory_copy(".");
}

/* Where to look, in this order; returns how many, each freed by the caller. */
static int search_folders(enum place_kind kind, const char *beside, char *folders[static 4])
{
	int count = 0;

	if (beside)
		folders[count++] = folder_of(beside);
	return count + place_folders(kind, folders + count);
}

/* Takes folder. */
static char *try_folder(char *folder, const char *name, struct text *looked)
{
	char *path = memory_format("%s/%s.yaml", *folder ? folder : "/", name);

	text_format(looked, "%s%s", looked->length ? ", " : "", folder);
	free(folder);
	if (access(path, F_OK) == 0)
		return path;
	free(path);
	return NULL;
}

char *place_find(enum place_kind kind, const char *name, const char *beside, char **looked)
{
	struct text tried = {0};
	char *folders[4];
	int count = search_folders(kind, beside, folders);
	char *found = NULL;

	*looked = NULL;
	for (int i = 0; i < count; i++) {
		if (found)
			free(folders[i]);
		else
			found = try_folder(folders[i], name, &tried);
	}
	if (found)
		text_free(&tried);
	else
		*looked = text_take(&tried);
	return found;
}

/* Adds the NAME of each NAME.yaml in the folder, which it takes; *names is ended by NULL. */
static void add_names(char *folder, char ***names, size_t *count)
{
	DIR *entries = opendir(*folder ? folder : "/");
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

char *place_nearest(enum place_kind kind, const char *name, const char *beside)
{
	char *folders[4];
	char **names = memory_new(1, sizeof(*names));
	size_t count = 0;
	int folder_count = search_folders(kind, beside, folders);

	for (int i = 0; i < folder_count; i++)
		add_names(folders[i], &names, &count);
	const char *nearest = fault_did_you_mean(name, (const char *const *)names);
	char *copy = nearest ? memory_copy(nearest) : NULL;
	for (size_t i = 0; i < count; i++)
		free(names[i]);
	free(names);
	return copy;
}
