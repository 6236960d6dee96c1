#include "report/internal.h"

#include "draw/draw.h"

#include <stddef.h>

/* The colours of pictures on light and on dark paper. Those that text is written in have a contrast
 * of at least 4.5 to the paper (WCAG 2.2, success criterion 1.4.3). */
static const struct {
	const char *name;
	int light;
	int dark;
} colours[] = {
	{"ink", INK, 0xF2F0EB},       {"grey", GREY, 0xB7BCC1}, {"faint", FAINT, 0x5D6369},
	{"core", CORE, 0x4B5258},     {"pale", PALE, 0x2A2E32}, {"paper", PAPER, 0x15171A},
	{"accent", ACCENT, 0xFF8C66},
};

enum { COLOURS = sizeof colours / sizeof colours[0] };

static void add_colours(struct text *out, bool dark)
{
	text_add(out, ":root{");
	for (size_t i = 0; i < COLOURS; i++)
		text_format(out, "--%s:#%06x;", colours[i].name,
			    (unsigned)(dark ? colours[i].dark : colours[i].light));
	text_add(out, "}");
}

/* Pictures have their colours as attributes; these rules replace them. */
static void add_picture_colours(struct text *out)
{
	for (size_t i = 0; i < COLOURS; i++) {
		const char *name = colours[i].name;
		unsigned colour = (unsigned)colours[i].light;
		text_format(out,
			    "svg [fill=\"#%06x\"]{fill:var(--%s)}"
			    "svg [stroke=\"#%06x\"]{stroke:var(--%s)}\n",
			    colour, name, colour, name);
	}
}

static const char rules[] =
	"*{box-sizing:border-box}\n"
	"html{color-scheme:light dark;-webkit-text-size-adjust:100%}\n"
	"body{margin:0;background:var(--paper);color:var(--ink);"
	"font:1rem/1.5 system-ui,-apple-system,\"Segoe UI\",Roboto,\"Helvetica Neue\",Arial,"
	"\"Liberation Sans\",\"DejaVu Sans\",sans-serif;overflow-wrap:break-word}\n"
	"bdi{overflow-wrap:anywhere}td>bdi,th>bdi{display:block;min-width:6rem}\n"
	"main,footer{max-width:74rem;margin:0 auto;padding:0 clamp(1rem,4vw,3rem)}\n"
	"header{padding:2rem 0 1rem}\n"
	"h1{font-size:clamp(1.6rem,4.5vw,2.25rem);line-height:1.15;margin:0 0 .4rem}\n"
	"h2{font-size:1.25rem;line-height:1.25;margin:0 0 .75rem}\n"
	"h3{font-size:1rem;margin:1.5rem 0 .5rem}\n"
	"p{margin:0 0 .75rem;max-width:48rem}\n"
	".kind,dt,caption,thead th{font-size:.75rem;font-weight:700;letter-spacing:.04em;"
	"text-transform:uppercase;color:var(--grey)}\n"
	".kind{margin:0 0 .25rem}\n"
	".second,figcaption,footer{color:var(--grey);font-size:.875rem}\n"
	"dl{display:grid;grid-template-columns:repeat(auto-fill,minmax(9.75rem,1fr));gap:1rem "
	"1rem;margin:1.25rem 0 0}\n"
	"dt{line-height:1.4}dd{margin:0;font-size:1.125rem;font-variant-numeric:tabular-nums}\n"
	"dl+p,dl+figure{margin-top:1rem}\n"
	"dl>div:first-child dd{font-size:1.4rem;font-weight:700;line-height:1.25}\n"
	"section{border-top:2px solid var(--ink);padding:1rem 0 2.25rem}\n"
	"figure{margin:0 0 1rem}figcaption{margin:.5rem 0 0}\n"
	"svg{display:block;width:100%;height:auto}\n"
	"table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums;"
	"margin:0 0 1.75rem}\n"
	"caption{text-align:left;padding:0 0 .4rem}\n"
	"th,td{text-align:left;vertical-align:top;padding:.3rem .75rem .3rem 0;font-weight:400;"
	"border-bottom:1px solid var(--core)}\n"
	"th:last-child,td:last-child{padding-right:0}\n"
	"thead th{vertical-align:bottom;border-bottom:1px solid var(--ink)}\n"
	".n{text-align:right}\n"
	".total th,.total td{font-weight:700;border-bottom:0;border-top:1px solid var(--ink)}\n"
	/* A border and no background: printers leave backgrounds out. */
	".bar{display:block;margin:.2rem 0 .1rem auto;border-top:.3rem solid var(--ink)}\n"
	"small{display:block;color:var(--grey)}\n"
	"@media (max-width:30rem){th,td{padding-right:.4rem}table{font-size:.9375rem}"
	"thead th{font-size:.6875rem;letter-spacing:0}td>bdi,th>bdi{min-width:5rem}}\n"
	"details{margin:0 0 1rem}\n"
	"summary{cursor:pointer;padding:.35rem 0;font-weight:700;text-decoration:underline;"
	"text-underline-offset:.2em;text-decoration-thickness:1px}\n"
	"summary:focus-visible{outline:3px solid var(--accent);outline-offset:2px}\n"
	"footer p{max-width:none;border-top:1px solid var(--core);padding:1rem 0 2rem;margin:0}\n"
	"@media (min-width:60rem){"
	".pair{display:grid;grid-template-columns:minmax(0,34rem) minmax(0,1fr);gap:1rem 3.5rem;"
	"align-items:start}.pair>h2{grid-column:1/-1;margin:0}}\n"
	".charts{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,26rem),1fr));"
	"gap:1.5rem 3.5rem;align-items:start}.charts h3{margin:.5rem 0}.charts>*{min-width:0}\n"
	"@media print{@page{margin:14mm}html{font-size:9.5pt}th,td{padding:.2rem .75rem .2rem 0}"
	"main,footer{max-width:none;padding:0}header{padding:0 0 .5rem}"
	"section{padding:.75rem 0 1rem}figure,tr,thead{break-inside:avoid}"
	"h2,h3,caption,thead,summary{break-after:avoid}svg{max-width:125mm}"
	"details::details-content{content-visibility:visible;display:block;height:auto}"
	"summary{list-style:none;text-decoration:none}}\n";

void style_add(struct text *out)
{
	add_colours(out, false);
	text_add(out, "\n@media screen and (prefers-color-scheme:dark){");
	add_colours(out, true);
	text_add(out, "}\n");
	add_picture_colours(out);
	text_add(out, rules);
}
