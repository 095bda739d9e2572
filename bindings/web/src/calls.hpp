#pragma once
/// What the page may ask of the core: each call takes a JSON object and gives one back. Errors are
/// thrown and become {"error": {...}} in interface.cpp.

#include "cure/io/model_files.hpp"

namespace cure::web {

using io::Json;

/// Where the page's model files are put by the call "files".
inline constexpr char const* models_folder = "/models";
inline io::ModelLibrary library() { return {{models_folder}}; }

/// Decision, page, ranges and what a picture needs, of a case.
Json answer_call(Json const& request);
/// Rows of an ensemble: the inputs given, the outcomes to the bit.
Json rows_call(Json const& request);
/// What to change.
Json advise_call(Json const& request);
/// A job that runs, with the text of a log.
Json follow_call(Json const& request);
/// The questions that a crew is asked, and what may be answered.
Json questions_call(Json const& request);
/// One answer of a crew: what is understood of it, or what it may mean.
Json understand_call(Json const& request);
/// From a crew's answers to a case, its ranges and what stands in.
Json job_call(Json const& request);

}  // namespace cure::web
