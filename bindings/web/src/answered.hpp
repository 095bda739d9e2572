#pragma once
/// A case to its answer as JSON: what the calls "answer" and "job" share.

#include "calls.hpp"
#include "cure/decide/answer.hpp"
#include "cure/io/job_file.hpp"
#include "cure/page/page_of.hpp"

namespace cure::web {

/// @param picture whether curves and the wall over time are wanted
/// @param times of a crew's job; null: only what the case itself says
Json answered(process::Case const& c, decide::Options const& options, page::Notes const& notes,
              bool picture, job::Times const* times);

}  // namespace cure::web
