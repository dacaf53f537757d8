/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recordings to measure on. The stations stand on a ring in sight of the source, so that delays
 * and rates are those of the Earth. */
#include "campaign.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include <whitefringe/time.h>

#include "recording/vdif_header.h"

enum { PAYLOAD_BYTES = 8000, SAMPLES_PER_FRAME = PAYLOAD_BYTES * 4, MARGIN_FRAMES = 40 };

static const char START[] = "2026-03-01T12:00:00";
static const double EARTH_RADIUS_M = 6371e3;
static const double PI = 3.14159265358979323846;

static void station_path(char path[BENCH_PATH_BYTES], const char *folder, size_t i)
{
    snprintf(path, BENCH_PATH_BYTES, "%s/station%zu.vdif", folder, i);
}

static void fill_random(uint8_t *payload, uint64_t *state)
{
    for (size_t i = 0; i < PAYLOAD_BYTES; i += sizeof *state) {
        *state ^= *state << 13;
        *state ^= *state >> 7;
        *state ^= *state << 17;
        memcpy(payload + i, state, sizeof *state);
    }
}

static bool write_frames(FILE *file, const bench_campaign *campaign, size_t i_station)
{
    static const int64_t frames_per_s = BENCH_SAMPLE_RATE_HZ / SAMPLES_PER_FRAME;
    wf_instant start = {0, 0.0};
    if (wf_instant_parse(&start, START, NULL) != WF_OK)
        return false;
    uint64_t random = 88172645463325252u + i_station;
    const int64_t n = (int64_t)ceil(campaign->duration_s * (double)frames_per_s) + MARGIN_FRAMES;
    for (int64_t k = -MARGIN_FRAMES; k < n; k++) {
        const int64_t frame = k + frames_per_s * start.second;
        for (uint32_t thread = 0; thread < BENCH_N_POLARIZATIONS; thread++) {
            uint8_t bytes[WFI_VDIF_HEADER_BYTES + PAYLOAD_BYTES];
            const uint32_t epoch = wfi_vdif_epoch_of(start);
            const wfi_vdif_header header = {
                .epoch = epoch,
                .second = (uint32_t)(frame / frames_per_s - wfi_vdif_epoch_second(epoch)),
                .frame = (uint32_t)(frame % frames_per_s),
                .frame_bytes = sizeof bytes,
                .bits = 2,
                .thread = thread,
            };
            wfi_vdif_header_encode(bytes, &header);
            fill_random(bytes + WFI_VDIF_HEADER_BYTES, &random);
            if (fwrite(bytes, sizeof bytes, 1, file) != 1)
                return false;
        }
    }
    return true;
}

static int write_recording(const bench_campaign *campaign, const char *folder, size_t i_station)
{
    char path[BENCH_PATH_BYTES];
    station_path(path, folder, i_station);
    FILE *file = fopen(path, "wb");
    const bool written = file != NULL && write_frames(file, campaign, i_station);
    if ((file != NULL && fclose(file) != 0) || !written) {
        fprintf(stderr, "%s could not be written\n", path);
        return -1;
    }
    return 0;
}

static void write_stations(FILE *job, const bench_campaign *campaign)
{
    fprintf(job, "campaign: Bench\nstations:\n");
    for (size_t i = 0; i < campaign->n_stations; i++) {
        const double longitude = 1.2 * (double)i / (double)campaign->n_stations;
        const double latitude = 0.8 + 0.2 * cos(2 * PI * longitude);
        fprintf(job, "  - {name: S%zu, position_itrf_m: [%.3f, %.3f, %.3f]}\n", i,
                EARTH_RADIUS_M * cos(latitude) * cos(longitude),
                EARTH_RADIUS_M * cos(latitude) * sin(longitude), EARTH_RADIUS_M * sin(latitude));
    }
}

static void write_set_up(FILE *job, const bench_campaign *campaign)
{
    fprintf(job,
            "sources:\n  - {name: Ousel, right_ascension_deg: 350.0, declination_deg: 50.0}\n"
            "scans:\n  - {name: S01, source: Ousel, start: %s, duration_s: %.9g}\n"
            "bands:\n  - {name: only, edge_hz: %.17g, bandwidth_hz: %d, sideband: upper}\n"
            "correlation: {channels: %zu, integration_s: %.9g, fringe_rotation: %s}\n"
            "earth_orientation:\n  days:\n",
            START, campaign->duration_s, campaign->edge_hz, BENCH_SAMPLE_RATE_HZ / 2,
            campaign->n_channels, campaign->integration_s, campaign->rotation);
    static const char *const days[] = {"2026-02-27", "2026-02-28", "2026-03-01",
                                       "2026-03-02", "2026-03-03", "2026-03-04"};
    for (size_t i = 0; i < sizeof days / sizeof days[0]; i++)
        fprintf(job,
                "    - {date: %s, pole_x_arcsec: 0.1, pole_y_arcsec: 0.3, ut1_minus_utc_s: 0.05, "
                "celestial_dx_mas: 0.0, celestial_dy_mas: 0.0}\n",
                days[i]);
}

static void write_recordings(FILE *job, const bench_campaign *campaign)
{
    fprintf(job, "recordings:\n");
    for (size_t i = 0; i < campaign->n_stations; i++)
        fprintf(job,
                "  - station: S%zu\n    files: [station%zu.vdif]\n    sample_rate_hz: %d\n"
                "    streams:\n      - {band: only, polarization: R, thread: 0}\n"
                "      - {band: only, polarization: L, thread: 1}\n",
                i, i, BENCH_SAMPLE_RATE_HZ);
}

int bench_campaign_write(const bench_campaign *campaign, const char *folder)
{
    for (size_t i = 0; i < campaign->n_stations; i++) {
        if (write_recording(campaign, folder, i) != 0)
            return -1;
    }
    char path[BENCH_PATH_BYTES];
    snprintf(path, sizeof path, "%s/job.yaml", folder);
    FILE *job = fopen(path, "w");
    if (job == NULL) {
        fprintf(stderr, "%s could not be written\n", path);
        return -1;
    }
    write_stations(job, campaign);
    write_set_up(job, campaign);
    write_recordings(job, campaign);
    return fclose(job);
}

double bench_campaign_samples(const bench_campaign *campaign)
{
    return campaign->duration_s * BENCH_SAMPLE_RATE_HZ * BENCH_N_POLARIZATIONS *
           (double)campaign->n_stations;
}

void bench_campaign_remove(const bench_campaign *campaign, const char *folder)
{
    char path[BENCH_PATH_BYTES];
    for (size_t i = 0; i < campaign->n_stations; i++) {
        station_path(path, folder, i);
        unlink(path);
    }
    static const char *const others[] = {"job.yaml", "out.fits"};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, others[i]);
        unlink(path);
    }
    rmdir(folder);
}
