/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An example job loads, and its numbers fit one another. */
#include "support/check.h"

#include <whitefringe/observation.h>

static void example_loads(void **state)
{
    wf_error err = WF_ERROR_INIT;
    wf_observation *job = NULL;
    wf_check_ok(wf_observation_load(&job, *state, &err), &err);
    const double width_hz = wf_channel_width_hz(job);
    for (size_t i = 0; i < job->n_recordings; i++) {
        /* A segment lasts 1 / channel width and holds whole samples. */
        const double n = (double)job->recordings[i].sample_rate_hz / width_hz;
        wf_check_near("samples a segment", n, round(n), 0.0, "");
    }
    for (size_t i = 0; i < job->n_scans; i++)
        assert_true(job->scans[i].duration_s >= job->correlation.integration_s);
    wf_observation_destroy(job);
}

int main(int argc, char **argv)
{
    if (argc != 2)
        return 2;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_prestate(example_loads, argv[1]),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
