# SPDX-License-Identifier: GPL-3.0-or-later
"""Job files: nested dictionaries and lists written as block YAML, with every number in digits
that bring back the same double."""

from fractions import Fraction

import numpy as np

import times

# Any Earth orientation will do where the delays come from a table; it turns u, v, w only.
EARTH_ORIENTATION = {"pole_x_arcsec": 0.11, "pole_y_arcsec": 0.32, "ut1_minus_utc_s": 0.052,
                     "celestial_dx_mas": 0.2, "celestial_dy_mas": -0.1}

_PLAIN = set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_.-:/+")


def _scalar(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, np.integer)):
        return str(int(value))
    if isinstance(value, (float, np.floating)):
        return repr(float(value))
    text = str(value)
    if text and set(text) <= _PLAIN and not text[0] in "-:" and not text.endswith(":"):
        return text
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def dump(value, indent=0):
    """Block YAML of dictionaries, lists and scalars."""
    pad = " " * indent
    lines = []
    items = value.items() if isinstance(value, dict) else ((None, item) for item in value)
    for key, item in items:
        head = f"{pad}-" if key is None else f"{pad}{key}:"
        if isinstance(item, (dict, list)) and not item:
            lines.append(f"{head} " + ("{}" if isinstance(item, dict) else "[]"))
        elif isinstance(item, (dict, list)):
            body = dump(item, indent + 2)
            if key is None:
                body = f"{head} " + body[indent + 2:]
                lines.append(body)
            else:
                lines.append(f"{head}\n{body}")
        else:
            lines.append(f"{head} {_scalar(item)}")
    return "\n".join(lines)


def write(path, job):
    with open(path, "w", encoding="utf-8") as file:
        file.write(dump(job) + "\n")


def earth_orientation_days(t, **changes):
    """Six days of constant Earth orientation round an instant."""
    mjd, _ = times.mjd_of(t)
    days = []
    for day in range(mjd - 2, mjd + 4):
        days.append({"date": times.text(times.of_mjd(day)).split("T")[0],
                     **EARTH_ORIENTATION, **changes})
    return {"days": days}


def write_delay_table(path, tau, start, stop, step_s=1, comment="made for a test"):
    """tau(t) in s, called with exact instants, from start to stop or a step beyond; 21 digits, so
    that nothing is lost to the text."""
    with open(path, "w", encoding="utf-8") as file:
        file.write(f"# {comment}\n")
        t = Fraction(start)
        while t < stop + step_s:
            file.write(f"{times.text(t)}  {float(tau(t)):.20e}\n")
            t += step_s
