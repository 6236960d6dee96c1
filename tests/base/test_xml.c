/* Text from outside can neither end a tag nor break a document. */
#include "base/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static void escapes(void **state)
{
	(void)state;
	static const struct {
		const char *text;
		const char *want;
	} cases[] = {
		{"", ""},
		{"main 4 left", "main 4 left"},
		{"<b a='1'>\"&amp;\"</b>",
		 "&lt;b a=&#39;1&#39;&gt;&quot;&amp;amp;&quot;&lt;/b&gt;"},
		{"one\ntwo\tthree\r", "one&#10;two&#9;three&#13;"},
		{"\x1b[2J\x7f", "\xEF\xBF\xBD[2J\x7f"},
		{"Zo\xC3\xAB \xE2\x86\x92 \xF0\x9F\x8E\xBE",
		 "Zo\xC3\xAB \xE2\x86\x92 \xF0\x9F\x8E\xBE"},
		{"a\xEF\xBF\xBE\xEF\xBF\xBF", "a\xEF\xBF\xBD\xEF\xBF\xBD"},
		{"\xEF\xBF\xBD", "\xEF\xBF\xBD"},
		{"\xF4\x8F\xBF\xBF", "\xF4\x8F\xBF\xBF"}, /* the last code point */
		/* not UTF-8: alone, cut short, overlong, a surrogate, beyond the last plane */
		{"\xFFz", "\xEF\xBF\xBDz"},
		{"\xE2\x86", "\xEF\xBF\xBD\xEF\xBF\xBD"},
		{"\xE2<", "\xEF\xBF\xBD&lt;"},
		{"\xC0\xBC", "\xEF\xBF\xBD\xEF\xBF\xBD"},
		{"\xED\xA0\x80", "\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD"},
		{"\xF4\x90\x80\x80", "\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD"},
	};

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct text out = {0};
		xml_add(&out, cases[i].text);
		assert_string_equal(text_string(&out), cases[i].want);
		text_free(&out);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {cmocka_unit_test(escapes)};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
