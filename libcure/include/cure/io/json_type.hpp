#pragma once
/// The name of a document's JSON, without its library.

#include <nlohmann/json_fwd.hpp>

#include "cure/arithmetic.hpp"

namespace cure::io {

using Json = nlohmann::json;
using OrderedJson = nlohmann::ordered_json;

}  // namespace cure::io
