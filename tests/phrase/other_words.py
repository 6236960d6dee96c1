"""No English word is left in the phrasebook of another language: neither in what is said nor in what is shown.

    other_words.py

Words that two languages spell alike are listed here, each language's own.
"""
import pathlib
import re
import sys

VOICE = pathlib.Path(__file__).parent.parent.parent / "voice"
ALIKE = {
    "de": "an april aramid august hand in kilo last min minute moment multifilament newton november nylon pause pedal plan "
          "polyester rest september so station version was",
    "fr": "angle centre contact force journal kilo kilos long machine main min minute minutes moment multifilament newton "
          "newtons nylon on pause place plan polyester protection second six station suggestion supports tension version",
    "es": "compare kilo kilos min natural newton newtons no once pedal plan",
    "it": "all alternate come in min newton no nylon stop zero",
}


def words(language):
    text = re.sub(r"^ *#.*$", "", (VOICE / f"{language}.yaml").read_text(encoding="utf-8"), flags=re.M)
    text = re.sub(r"^(phrasebook|voice):.*$", "", text, flags=re.M)
    text = re.sub(r"\{\w+\}", " ", text)
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


main()
