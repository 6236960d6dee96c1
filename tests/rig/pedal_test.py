#!/usr/bin/python3 -B
"""Pedals in a real kernel: tests/pedal/test_kernel runs in the rig's machine, where it may make devices and
can ask udev about them.

    pedal_test.py TEST_KERNEL WORK_FOLDER
"""
import pathlib
import sys

import machine

RULE = pathlib.Path(__file__).resolve().parents[2] / "src/pedal/71-pullcall-pedal.rules"
SCRIPT = """
    mkdir -p /etc/udev/rules.d
    cp {rule} /etc/udev/rules.d
    echo running >&3
    {program} >/rig/report 2>&1
    echo "ended with $?" >&3
    """


def main(program, work):
    with machine.Machine(work, SCRIPT.format(program=program, rule=RULE), [program, "/usr/bin/udevadm"],
                         [RULE.parent, "/usr/lib/udev/rules.d"], drivers=["uinput"]) as rig:
        rig.wait_for("running")
        ended = rig.wait_for("ended with", 200)
        rig.wait_off(30)
    print((work / "report").read_text(errors="replace"))
    if ended != "ended with 0":
        raise SystemExit(f"rig: the test in the machine {ended}")


if __name__ == "__main__":
    main(pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve())
