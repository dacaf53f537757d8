/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "base/memory.h"
#include "throughput/scene.h"

static wfi_scene_setup small(void)
{
    return (wfi_scene_setup){
        .n_stations = 3,
        .n_polarizations = 2,
        .n_bands = 2,
        .n_channels = 32,
        .n_products = 4,
        .sample_rate_hz = 1000000,
        .bits = 2,
        .edge_hz = 8400e6,
        .n_segments = 40,
    };
}

/* Counted by hand: 3 stations x 2 polarizations x 2 bands; 6 baselines with the autocorrelations,
 * 4 products, 2 bands of 32 channels; 64 real samples a segment. */
static void volumes_are_those_of_the_set_up(void **state)
{
    (void)state;
    const wfi_scene_setup setup = small();
    assert_int_equal(wfi_scene_n_streams(&setup), 12);
    assert_int_equal(wfi_scene_n_fft(&setup), 64);
    wf_check_near("products", wfi_scene_products(&setup), 6 * 4 * 2 * 32, 0, "");
    wf_check_near("samples", wfi_scene_samples(&setup), 40.0 * 64 * 12, 0, "");
}

/* Random samples of independent streams: every sample is valid and every power is that of four
 * equally likely levels, (3.3359^2 + 1) / 2, within 6 sigma of 40 * 64 samples. */
static void slice_runs_on_valid_noise(void **state)
{
    (void)state;
    const double outer = 3.3359 * 3.3359;
    const double sigma = (outer - 1) / 2 / sqrt(40.0 * 64);
    const wfi_scene_setup setup = small();
    wf_error err = WF_ERROR_INIT;
    wfi_scene scene;
    wf_worker *worker = NULL;
    wf_partial *partial = NULL;
    wf_check_ok(wfi_scene_open(&scene, &setup, &err), &err);
    wf_check_ok(wf_worker_create(&worker, scene.session.plan, &err), &err);
    wf_check_ok(wf_partial_create(&partial, scene.session.plan, &err), &err);
    wf_check_ok(wf_plan_execute(scene.session.plan, worker, &scene.slice, 0, partial, &err), &err);
    for (size_t k = 0; k < wfi_scene_n_streams(&setup); k++) {
        wf_check_near("valid", partial->valid_samples[k], 40.0 * 64, 0, "samples");
        wf_check_near("power", partial->power[k] / partial->valid_samples[k], (outer + 1) / 2,
                      6 * sigma, "");
    }
    wf_partial_destroy(partial);
    wf_worker_destroy(worker);
    wfi_scene_close(&scene);
}

static void stations_move_against_the_source(void **state)
{
    (void)state;
    const wfi_scene_setup setup = small();
    wf_error err = WF_ERROR_INIT;
    wfi_scene scene;
    wf_check_ok(wfi_scene_open(&scene, &setup, &err), &err);
    /* At most the Earth's radius over the speed of light, and its equatorial speed over it. */
    for (size_t i = 0; i < setup.n_stations; i++) {
        double tau_s = 0;
        double rate = 0;
        wf_track_evaluate(scene.slice.tracks[i], scene.slice.start, &tau_s, &rate);
        assert_true(fabs(tau_s) > 1e-4 && fabs(tau_s) < 0.0214);
        assert_true(fabs(rate) > 1e-9 && fabs(rate) < 1.6e-6);
    }
    wfi_scene_close(&scene);
}

static void every_allocation_may_fail(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    const wfi_scene_setup setup = small();
    wf_status status = WF_MEMORY;
    for (long n = 1; status != WF_OK; n++) {
        wf_error err = WF_ERROR_INIT;
        wfi_scene scene;
        wfi_memory_fail_after(n);
        status = wfi_scene_open(&scene, &setup, &err);
        wfi_memory_fail_after(0);
        assert_true(status == WF_OK || status == WF_MEMORY);
        wfi_scene_close(&scene);
    }
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(volumes_are_those_of_the_set_up),
        cmocka_unit_test(slice_runs_on_valid_noise),
        cmocka_unit_test(stations_move_against_the_source),
        cmocka_unit_test(every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
