#include "cure/ensemble/lane_resin.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <string>

#include "cure/numerics/instructions.hpp"

namespace cure::ensemble {
namespace {

using R = RateConstants;
constexpr std::size_t bytes = numerics::own_register_bytes;
constexpr double T_ref = 295.0;

/// Constants that differ from one another, so that none can stand at another's place unseen.
template <class Entry>
Entry example() {
  Entry entry;
  int count = 0;
  kinetics::each_constant<Entry>([&]<class Member>(kinetics::LawConstant<Member> const& c) {
    ++count;
    if constexpr (kinetics::is_rate_constant<Member>) {
      entry.*c.member =
          kinetics::Arrhenius<double>::centred(1e-4 * count, 50e3 + 5e3 * count, 310.0);
    } else {
      entry.*c.member = c.kind == units::Kind::rate ? 1e-4 : c.search.start_low + 0.01 * count;
    }
  });
  if constexpr (requires { entry.glass_transition; }) entry.glass_transition = {240.0, 360.0, 0.4};
  return entry;
}

template <std::size_t law_number, std::size_t form, std::size_t diffusion_number>
void compare() {
  using Law = kinetics::Listed<law_number, kinetics::RateLaw<double>>;
  using Control = kinetics::Listed<diffusion_number, kinetics::DiffusionControl<double>>;
  auto law = example<Law>();
  if constexpr (form > 0) {
    law.m = 1.0;
    ASSERT_GE(law.form(), form);
  }
  auto const control = example<Control>();
  RateConstants constants;
  auto const put_from = [&](R::Index first) {
    return [&constants, first](std::size_t i, double x) {
      constants.value[first + i] = static_cast<float>(x);
    };
  };
  put_constants(law, T_ref, put_from(R::law));
  put_constants(control, T_ref, put_from(R::diffusion));
  put_from(R::inverse_T_ref)(0, 1.0 / T_ref);
  put_from(R::Tg0)(0, 240.0);
  put_from(R::Tg_inf)(0, 360.0);
  put_from(R::lambda)(0, 0.4);
  PackedConstants<bytes> packed{};
  Floats<bytes> T(0.0), alpha(0.0);
  for (std::size_t k = 0; k < lanes; ++k) {
    packed.set(k, constants);
    T.set(k, 275.0f + 4.0f * static_cast<float>(k));
    alpha.set(k, 0.03f + 0.06f * static_cast<float>(k));
  }
  auto const rates = LaneResin<bytes, law_number, form, diffusion_number>(packed).at(T, alpha);
  for (std::size_t k = 0; k < lanes; ++k) {
    SCOPED_TRACE(std::string(Law::name) + ", " + Control::name + ", lane " + std::to_string(k));
    double const T_k = T.lane(k), alpha_k = alpha.lane(k);
    auto const expected = law.rate(T_k, alpha_k, control.at(T_k, alpha_k));
    ASSERT_GT(expected.value, 0.0);
    EXPECT_NEAR(rates.value.lane(k), expected.value, 1e-4 * expected.value);
    EXPECT_NEAR(rates.dT.lane(k), expected.dT, 1e-4 * (std::abs(expected.dT) + expected.value));
    EXPECT_NEAR(rates.dalpha.lane(k), expected.dalpha,
                1e-4 * (std::abs(expected.dalpha) + 10.0 * expected.value));
  }
}

TEST(LaneResin, GivesTheRateOfEveryLawUnderEveryDiffusionControl) {
  kinetics::each_listed<kinetics::RateLaw<double>>([]<std::size_t law>() {
    using Law = kinetics::Listed<law, kinetics::RateLaw<double>>;
    if constexpr (kinetics::serves_packs<Law>()) {
      kinetics::each_listed<kinetics::DiffusionControl<double>>([]<std::size_t diffusion>() {
        compare<law, 0, diffusion>();
        if constexpr (packed_forms<Law>() > 1) compare<law, 1, diffusion>();
      });
    }
  });
}

}  // namespace
}  // namespace cure::ensemble
