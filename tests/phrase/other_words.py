"""No English word is left in the phrasebook of another language: neither in what is said nor in what is shown.

    other_words.py

Words that two languages spell alike are listed here, each language's own.
"""
import pathlib
import re
import sys

VOICE = pathlib.Path(__file__).parent.parent.parent / "voice"
ALIKE = {
    "de": "an april aramid august badminton hand in javascript kilo last min minute moment multifilament newton "
          "november nylon pause pedal plan polyester pullcalld racquetball rest september so squash station tennis "
          "version was",
    "fr": "angle badminton centre contact face force javascript journal kilo kilos long machine main min minute "
          "minutes moment multifilament newton newtons notes nylon on page pause place plan polyester possible "
          "protection pullcalld racquetball second six squash station suggestion supports tennis tension version",
    "es": "compare javascript kilo kilos min natural newton newtons no once pedal plan pullcalld squash",
    "it": "all alternate badminton come due in javascript min newton no nylon per pullcalld racquetball squash stop "
          "tennis zero",
}


def words(language):
    text = re.sub(r"^ *#.*$", "", (VOICE / f"{language}.yaml").read_text(encoding="utf-8"), flags=re.M)
    text = re.sub(r"^(phrasebook|voice):.*$", "", text, flags=re.M)
    text = re.sub(r"\{\w+\}", " ", text)
    text = re.sub(r"^ +[\w ]+: ", " ", text, flags=re.M)
    text = re.sub(r"[\w-]+: ", " ", re.sub(r":$", ": ", text, flags=re.M))
    return set(re.findall(r"[^\W\d_]{2,}", text.lower()))


def main():
    english = words("en")
    good = True
    for language, alike in ALIKE.items():
        left = words(language) & english - set(alike.split())
        if left:
            print(f"{language}: English words: {' '.join(sorted(left))}")
            good = False
    assert len(english) > 300
    sys.exit(not good)


if __name__ == "__main__":
    main()
