/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The whole public interface of libwhitefringe, in the order of the data. */
#ifndef WHITEFRINGE_H
#define WHITEFRINGE_H

#include <whitefringe/version.h>
#include <whitefringe/status.h>
#include <whitefringe/time.h>
#include <whitefringe/delay_terms.h>
#include <whitefringe/observation.h>
#include <whitefringe/job_edit.h>
#include <whitefringe/recording.h>
#include <whitefringe/statistics.h>
#include <whitefringe/delay.h>
#include <whitefringe/engine.h>
#include <whitefringe/visibility.h>
#include <whitefringe/fringe.h>
#include <whitefringe/stability.h>
#include <whitefringe/fringe_fit.h>
#include <whitefringe/simulate.h>
#include <whitefringe/run.h>
#include <whitefringe/search.h>
#include <whitefringe/diagnosis.h>
#include <whitefringe/throughput.h>

#endif
