#pragma once
/// The `evidence` of a resin file: what was measured, and where the model has foretold it.

#include <cstddef>

#include "cure/io/quantity.hpp"
#include "cure/kinetics/resin.hpp"

namespace cure::io {

namespace detail::evidence {

using X = kinetics::Evidence;
using F = ModelFields<X>;

inline Range from_verified(X const& x) {
  return {.low = x.verified->first, .high = temperature().high};
}

inline constexpr Field<X> verified_fields[] = {
    F::quantity("from", units::Kind::temperature, temperature(),
                [](X& x, double v) {
                  x.verified = {v, v};
                }),
    F::quantity("to", units::Kind::temperature, temperature(),
                [](X& x, double v) { x.verified->second = v; })
        .within(from_verified)
        .means("At least from.")};

inline constexpr Object<X> verified_table{
    verified_fields, "Where measurements that were held back came out as foretold."};

inline constexpr char const* known_from[] = {"measured", "family"};

inline constexpr Field<X> fields[] = {
    F::word("setting_in_the_cold", known_from,
            [](X& x, std::size_t i) { x.cold_from_family = i == 1; })
        .means("How far it cures once it turns to glass.")
        .or_else("measured"),
    F::word("heat_in_bulk", known_from, [](X& x, std::size_t i) { x.bulk_from_family = i == 1; })
        .means("How it heats itself.")
        .or_else("measured"),
    F::object("verified", verified_table).optional()};

}  // namespace detail::evidence

inline constexpr Object<kinetics::Evidence> evidence_table{
    detail::evidence::fields,
    "What was measured of this resin, and what is taken from others of its family."};

/// @throws InputError
inline kinetics::Evidence read_evidence(Reader& resin) {
  kinetics::Evidence found;
  auto e = resin.object("evidence");
  read_object(evidence_table, e, found);
  return found;
}

}  // namespace cure::io
