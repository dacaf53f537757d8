/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A sky file, read and checked. */
#ifndef WFI_SIMULATE_SKY_H
#define WFI_SIMULATE_SKY_H

#include <stdbool.h>
#include <stdint.h>
#include <whitefringe/simulate.h>

#include "simulate/cells.h"
#include "simulate/directions.h"
#include "simulate/schedule.h"
#include "simulate/sky_schema.h"
#include "simulate/style.h"

struct wf_sky {
    char *path;
    wfi_raw_sky_file *raw;
    wf_observation *observation; /* as the job will have it, but for the folder of the files */
    uint64_t seed;
    wfi_component *components; /* [n_components], by source */
    size_t n_components;
    wfi_style *styles; /* [n_recordings] */
    wfi_cells cells;
    wfi_directions directions;
    wfi_schedule *schedules; /* [n_recordings] */
};

/** Name of a recording's file in the folder. */
const char *wfi_sky_file_name(const wf_sky *sky, size_t i_recording);

/** "folder/name". */
wf_status wfi_path_in_folder(char **out, const char *folder, const char *name, wf_error *err);

#endif
