# SPDX-License-Identifier: GPL-3.0-or-later
"""The vacuum delay of IERS Conventions (2010) chapter 11, written for the tests alone.

Written by the formulas, in another way than the library: the Earth is turned by way of the equinox
(precession-nutation matrix and Greenwich apparent sidereal time) in place of the CIO, velocities
are differences of positions, sums are in extended precision. ERFA supplies the series only.
"""
import erfa
import numpy as np

L = np.longdouble
C = L(299792458)
GM_SUN = L(1.32712442099e20)  # IERS Conventions (2010) table 1.1
GM_EARTH = L(3.986004418e14)
EARTH_RADIUS = L(6378136.6)
AU = L(149597870700)
DAY = L(86400)
# plan94's number of a planet, mass of the Sun over its mass
PLANETS = {1: 6023657.33, 2: 408523.719, 4: 3098703.59, 5: 1047.348644, 6: 3497.9018,
           7: 22902.98, 8: 19412.26}


def dot(a, b):
    return np.sum(L(1) * a * b, axis=-1)


def norm(a):
    return np.sqrt(dot(a, a))


def unit(right_ascension, declination):
    a, d = L(right_ascension), L(declination)
    return np.array([np.cos(d) * np.cos(a), np.cos(d) * np.sin(a), np.sin(d)])


class Time:
    """UTC day and seconds of it; `seconds` may run beyond the day."""

    def __init__(self, mjd, seconds):
        self.mjd, self.seconds = mjd, L(seconds)
        year, month, day, _ = erfa.jd2cal(2400000.5, mjd)
        self.tai_minus_utc = int(erfa.dat(year, month, day, 0.0))

    def later(self, seconds):
        return Time(self.mjd, self.seconds + L(seconds))

    def text(self):
        """ISO 8601 to the microsecond; the seconds must be whole microseconds."""
        year, month, day, _ = erfa.jd2cal(2400000.5, self.mjd)
        us = int(round(self.seconds * 10**6))
        s, us = divmod(us, 10**6)
        clock = min(s, 86399)
        return '%04d-%02d-%02dT%02d:%02d:%02d.%06d' % (
            year, month, day, clock // 3600, clock // 60 % 60, clock % 60 + s - clock, us)

    def tai_seconds_of_day(self):
        return self.seconds + self.tai_minus_utc

    def tt(self):
        return 2400000.5 + self.mjd, float((self.tai_seconds_of_day() + L('32.184')) / DAY)

    def ut1(self, ut1_minus_tai):
        return 2400000.5 + self.mjd, float((self.tai_seconds_of_day() + L(ut1_minus_tai)) / DAY)

    def tai_since(self, mjd):
        """Elapsed seconds since 0h UTC of a day."""
        other = Time(mjd, 0)
        return ((self.mjd - mjd) * DAY + self.seconds
                + self.tai_minus_utc - other.tai_minus_utc)


class Orientation:
    """Daily x, y (rad), UT1-UTC (s), dX, dY (rad) at 0h UTC, by four-point Lagrange."""

    def __init__(self, first_mjd, rows):
        self.first_mjd = first_mjd
        self.rows = np.array(rows, dtype=L)
        for i in range(len(rows)):
            self.rows[i, 2] -= Time(first_mjd + i, 0).tai_minus_utc

    def at(self, t):
        extra = t.seconds / (86400 if t.seconds < 86400 else 86401)
        i = t.mjd - self.first_mjd + int(extra >= 1) - 1
        days = [self.first_mjd + i + k for k in range(4)]
        s = np.array([t.tai_since(d) for d in days])
        total = np.zeros(5, dtype=L)
        for k in range(4):
            others = [m for m in range(4) if m != k]
            weight = np.prod([s[m] / (s[m] - s[k]) for m in others])
            total += weight * self.rows[i + k]
        return total


def terrestrial_to_celestial(t, eop):
    """Equinox based; dX, dY by the least rotation that moves the pole."""
    pole_x, pole_y, ut1_minus_tai, dx, dy = eop
    tt = t.tt()
    npb = erfa.pnm06a(*tt)
    pole = npb[2]
    moved = np.array([pole[0] + float(dx), pole[1] + float(dy), 0.0])
    moved[2] = np.sqrt(1 - moved[0]**2 - moved[1]**2)
    npb_moved = npb @ erfa.rv2m(np.cross(pole, moved))
    gst = erfa.gst06(*t.ut1(ut1_minus_tai), *tt, npb)
    pom = erfa.pom00(float(pole_x), float(pole_y), erfa.sp00(*tt))
    return (pom @ erfa.rz(gst, npb_moved)).T


def station_gcrs(position_itrf, t, orientation):
    """Position, and velocity from positions a second before and after."""
    def at(u):
        matrix = terrestrial_to_celestial(u, orientation.at(u))
        return L(1) * matrix @ np.array(position_itrf, dtype=L)
    return at(t), (at(t.later(1)) - at(t.later(-1))) / 2


def itrf_at(position, velocity, epoch_year, t):
    years = (t.mjd - 57023 + t.seconds / DAY) / L('365.25') - (L(epoch_year) - 2015)
    return np.array(position, dtype=L) + years * np.array(velocity, dtype=L)


class Bodies:
    """Barycentric positions (m) and velocities (m/s) of the Earth, Sun, Moon and planets."""

    def __init__(self, t):
        tt = t.tt()
        tdb = (tt[0], tt[1] + erfa.dtdb(*tt, 0.0, 0.0, 0.0, 0.0) / 86400.0)

        def scaled(pv):
            return L(1) * pv['p'] * AU, L(1) * pv['v'] * AU / DAY
        heliocentric, barycentric = erfa.epv00(*tdb)
        h, e = scaled(heliocentric), scaled(barycentric)
        moon = scaled(erfa.moon98(*tt))
        self.earth = e
        self.sun = (GM_SUN, e[0] - h[0], e[1] - h[1])
        self.others = [(GM_EARTH * L('0.0123000371'), e[0] + moon[0], e[1] + moon[1])]
        for number, ratio in PLANETS.items():
            p = scaled(erfa.plan94(*tdb, number))
            self.others.append((GM_SUN / L(ratio), self.sun[1] + p[0], self.sun[2] + p[1]))


def gravity(k, x1, x2, bodies, body):
    """Eq. 11.1 with 11.3 to 11.6."""
    gm, position, velocity = body
    earth, v = bodies.earth
    lag = max(L(0), dot(k, position - (earth + x1)) / C)
    where = position - velocity * lag
    r1 = earth + x1 - where
    r2 = earth + x2 - v / C * dot(k, x2 - x1) - where
    return 2 * gm / C**3 * np.log((norm(r1) + dot(k, r1)) / (norm(r2) + dot(k, r2))), r1


def vacuum_delay(k, x1, x2, w2, bodies):
    """Eq. 11.9 of a baseline, term by term: geometry, Sun, other bodies, Earth.

    At the geocentre (x1 = 0) eq. 11.2 takes the Earth's radius for the path of station 1.
    """
    b = x2 - x1
    earth, v = bodies.earth
    sun_first, r1 = gravity(k, x1, x2, bodies, bodies.sun)
    bend = dot(b, r1) / norm(r1) + dot(k, b)
    sun = sun_first + 4 * GM_SUN**2 / C**5 * bend / (norm(r1) + dot(k, r1))**2  # eq. 11.14
    others = sum(gravity(k, x1, x2, bodies, body)[0] for body in bodies.others)
    path1 = norm(x1) + dot(k, x1) if norm(x1) > 0 else EARTH_RADIUS
    of_earth = 2 * GM_EARTH / C**3 * np.log(path1 / (norm(x2) + dot(k, x2)))
    u = GM_SUN / norm(earth - bodies.sun[1])
    geometry = (-dot(k, b) / C * (1 - 2 * u / C**2 - dot(v, v) / (2 * C**2) - dot(v, w2) / C**2)
                - dot(v, b) / C**2 * (1 + dot(k, v) / (2 * C)))
    return np.array([geometry, sun, others, of_earth]) / (1 + dot(k, v + w2) / C)
