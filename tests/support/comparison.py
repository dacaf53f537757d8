# SPDX-License-Identifier: GPL-3.0-or-later
"""A file of visibilities held against the reference, row by row."""

from dataclasses import dataclass

import numpy as np

import idi_files
import reference

# Spectra are made in single precision (2^-24 relative to the largest channel, a few units of
# correlation coefficient) and stored in it; the mean over hundreds of segments stays below this.
VISIBILITY_LIMIT = 2.0e-6
WEIGHT_LIMIT = 1.0e-6  # stored in single precision


@dataclass
class Worst:
    visibility: float
    weight: float
    n_rows: int


def hold_against_reference(test, campaign, *options, limit=VISIBILITY_LIMIT):
    """Correlate a campaign both ways and compare everything in the file."""
    job = campaign.write()
    output = campaign.folder / "out.fits"
    test.correlate(job, output, *options)
    return compare(test, campaign, idi_files.read(output), reference.correlate(campaign.setup()),
                   limit)


def compare(test, campaign, file, rows, limit):
    setup = campaign.setup()
    test.assertEqual(file.stations, list(setup.stations))
    test.assertEqual(file.products, ["".join(p) for p in setup.products])
    width = float(setup.width_hz())
    for i_band, band in enumerate(setup.bands):
        first = float(setup.first_hz(band))
        # CH_WIDTH stands in single precision in the file.
        test.check_near("frequency", file.channel_hz[i_band],
                        first + width * np.arange(setup.n_channels),
                        1e-6 + setup.n_channels * width * 2.0**-24, "Hz")
    test.assertEqual(len(file.middle), len(rows), "number of rows")
    worst = Worst(0.0, 0.0, len(rows))
    for k, row in enumerate(rows):
        what = f"{row.i}-{row.j} of scan {row.scan} at {float(row.middle - campaign.epoch)} s"
        test.assertEqual((file.stations[file.i[k]], file.stations[file.j[k]]), (row.i, row.j),
                         f"row {k}")
        test.assertEqual(file.sources[file.source[k]], setup.scans[row.scan].source, what)
        test.check_near(f"time of {what}", float(file.middle[k] - row.middle), 0.0, 2e-9, "s")
        test.check_near(f"length of {what}", file.length_s[k], float(row.length_s),
                        float(row.length_s) * 2.0**-24, "s")
        worst.weight = max(worst.weight, test.check_near(
            f"weight of {what}", file.weight[k], row.weight, WEIGHT_LIMIT))
        worst.visibility = max(worst.visibility, test.check_near(
            f"visibility of {what}", file.visibility[k], row.visibility, limit))
    print(f"{test.id().split('.', 1)[-1]}: {len(rows)} rows, largest deviation "
          f"{worst.visibility:.2e} in visibility, {worst.weight:.2e} in weight", flush=True)
    return worst
