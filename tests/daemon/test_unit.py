#!/usr/bin/python3 -B
"""The user unit, as systemd itself reads it.

    test_unit.py FOLDER_OF_PROGRAMS UNIT
"""
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import unittest

PROGRAMS = None
UNIT = None


class Unit(unittest.TestCase):
    def test_systemd_has_nothing_to_say(self):
        """Installed, it names the installed program; here the one that was built."""
        with tempfile.TemporaryDirectory() as folder:
            text = UNIT.read_text(encoding="utf-8")
            text, count = re.subn(r"^ExecStart=/.*/pullcalld$", f"ExecStart={PROGRAMS}/pullcalld", text, flags=re.M)
            self.assertEqual(count, 1)
            unit = pathlib.Path(folder) / "pullcalld.service"
            unit.write_text(text, encoding="utf-8")
            result = subprocess.run(["systemd-analyze", "--user", "--man=no", "verify", unit], capture_output=True,
                                    text=True, env=dict(os.environ, XDG_RUNTIME_DIR=folder), timeout=30, check=False)
            self.assertEqual((result.returncode, result.stdout + result.stderr), (0, ""))

    def test_only_what_a_users_manager_can_enforce(self):
        """These need namespaces, which an ordinary user may not have: the unit would not start, or not be held."""
        for setting in ("Private", "Protect", "ReadWritePaths", "ReadOnlyPaths", "InaccessiblePaths", "TemporaryFileSystem",
                        "BindPaths", "RootDirectory", "User=", "CapabilityBoundingSet"):
            self.assertNotRegex(UNIT.read_text(encoding="utf-8"), rf"(?m)^{setting}", setting)


if __name__ == "__main__":
    UNIT = pathlib.Path(sys.argv.pop()).resolve()
    PROGRAMS = pathlib.Path(sys.argv.pop()).resolve()
    unittest.main()
