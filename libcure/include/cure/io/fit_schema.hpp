#pragma once
/// The JSON Schema of a law in a document "libcure/fit/1", from the laws' own lists of constants.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <map>
#include <string>
#include <vector>

#include "cure/fit/law.hpp"
#include "cure/io/schema.hpp"

namespace cure::io {

namespace detail {

/// Everything that a fit may hold, each law with all that may be added to it.
inline std::vector<fit::FitParameter> all_fit_parameters() {
  std::vector<fit::FitParameter> all;
  for (std::size_t base = 0; base < fit::base_count; ++base) {
    for (std::size_t diffusion = 0; diffusion < fit::diffusion_names().size(); ++diffusion) {
      fit::Law law;
      law.base = base;
      law.ether = base == fit::epoxy_amine_base;
      law.alpha0 = law.inhibitor = true;
      law.diffusion = diffusion;
      for (auto const& p : law.parameters()) all.push_back(p);
    }
  }
  return all;
}

/// What a parameter may be held at, in the unit for people.
inline Range held_range(fit::FitParameter const& p) {
  if (p.unit == "1/s") return {.low = 0.0, .above = true};
  auto const outside = [&](double x) { return p.log ? std::exp(x) : x / p.factor; };
  return {.low = outside(p.low), .high = outside(p.high)};
}

/// Schema of the constants that may be held, by the key for people. It only tells signs apart: the
/// front, which knows the law, refuses the rest and says what is allowed. A key that several laws
/// have may be what any of them allows.
inline SchemaWriter::Ordered held_constants() {
  using Ordered = SchemaWriter::Ordered;
  Ordered properties = Ordered::object();
  std::map<std::string, Range> allowed;
  for (auto const& p : all_fit_parameters()) {
    auto const own = held_range(p);
    auto const range = allowed.try_emplace(p.key, own).first;
    auto& r = range->second;
    r.low = std::min(r.low, own.low);
    r.high = std::max(r.high, own.high);
    auto& s = properties[p.key];
    s["description"] = (p.recipe.empty() ? "" : p.recipe + ", wants to be held; ") + r.text() + ".";
    s["type"] = "number";
    for (auto const* key : {"minimum", "exclusiveMinimum"}) s.erase(key);
    if (r.low >= 0.0) s[r.low > 0.0 || r.above ? "exclusiveMinimum" : "minimum"] = 0;
  }
  return properties;
}

}  // namespace detail

inline SchemaWriter::Ordered fit_law_schema() {
  using Ordered = SchemaWriter::Ordered;
  std::string starting;
  for (std::size_t i = 0; i < fit::base_count; ++i) {
    if (fit::base_needs_initial_cure(i))
      starting += (starting.empty() ? "" : ", ") + std::string(fit::name_of_base(i));
  }
  Ordered diffusion = {true, false};
  for (auto const& name : fit::diffusion_names()) diffusion.push_back(name);
  Ordered const flag{{"type", "boolean"}};
  auto const with = [](Ordered s, std::string const& text) {
    s["description"] = text;
    return s;
  };
  Ordered s{{"type", "object"}, {"additionalProperties", false}, {"required", {"law"}}};
  auto& p = s["properties"];
  p["law"] = {{"enum", fit::base_names()}};
  p["diffusion"] = with({{"enum", diffusion}},
                        "Diffusion control; true is chern-poehlein. rabinowitch takes the glass "
                        "transition of model.properties_from.");
  p["inhibitor"] =
      with(flag, "With an inhibitor that is spent first; not with parallel or epoxy-amine.");
  p["ether"] = with(flag, "With etherification; only epoxy-amine.");
  p["initial_cure"] = with(
      flag, "Initial degree of cure as a constant to fit; true for " + starting + " by default.");
  p["fixed"] = {
      {"type", "object"},
      {"additionalProperties", false},
      {"description", "Constants that are held. Rate constants are at the reference temperature."},
      {"properties", detail::held_constants()}};
  return s;
}

}  // namespace cure::io
