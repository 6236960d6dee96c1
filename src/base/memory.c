/* Memory: when it runs out, the program ends. */
#include "base/base.h"

#include <stdlib.h>
#include <string.h>
#include <sysexits.h>

void memory_fail(void)
{
	fputs("pullcall: out of memory\n", stderr);
	quick_exit(EX_OSERR);
}

static void *checked(void *memory)
{
	if (!memory)
		memory_fail();
	return memory;
}

void *memory_new(size_t count, size_t size)
{
	return checked(calloc(count ? count : 1, size));
}

void *memory_resize(void *old, size_t count, size_t size)
{
	return checked(reallocarray(old, count ? count : 1, size));
}

char *memory_copy(const char *text)
{
	return text ? checked(strdup(text)) : NULL;
}

char *memory_copy_part(const char *text, size_t length)
{
	return checked(strndup(text, length));
}

void memory_replace(char **text, const char *with)
{
	char *copy = memory_copy(with);

	free(*text);
	*text = copy;
}

char *memory_format_list(const char *format, va_list values)
{
	char *text = NULL;

	return checked(vasprintf(&text, format, values) < 0 ? NULL : text);
}

char *memory_format(const char *format, ...)
{
	va_list values;

	va_start(values, format);
	char *text = memory_format_list(format, values);
	va_end(values);
	return text;
}
