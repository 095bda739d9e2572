// Follows a running job that is installed with libcure, without Python.
#include <cstdio>
#include <filesystem>
#include <string>

#include "cure/follow/follow.hpp"
#include "cure/io/case_file.hpp"
#include "cure/io/follow_file.hpp"
#include "cure/io/readings_file.hpp"
#include "cure/process/place.hpp"

int main() {
  std::filesystem::path const models = MODELS_DIR;
  auto const job = cure::io::load_case(models / "cases" / "cold_ground_winter.json", {{models}});
  auto const history = cure::process::predict(job).history;
  // What a logger would have written by now.
  std::string log = "time_min,temperature_C\n";
  for (int minute = 17; minute <= 180; ++minute) {
    double const T = at(history, "liner outer face", 60.0 * minute).T;
    log += std::to_string(minute) + "," + std::to_string(cure::celsius_from_kelvin(T)) + "\n";
  }
  auto const readings = cure::io::parse_readings(log, "log.csv");
  auto const r = cure::follow::follow(job, readings, {.at = "liner outer face", .samples = 256});
  std::printf("%s\n  bladder out: %s with the readings, %s without\n", job.title.c_str(),
              cure::decide::duration(r.release, true).c_str(),
              cure::decide::duration(r.before.wait_until, true).c_str());
  for (auto const& reason : r.reasons) std::printf("  not relied on: %s\n", reason.text.c_str());
  for (auto const& fault : r.faults) std::printf("  left out: %s\n", fault.text.c_str());
  auto const width = [](cure::follow::Sure const& s) { return s.release.p95 - s.release.p5; };
  bool const narrower = r.relied_on && width(r.after) < width(r.before);
  bool const on = r.status() == cure::follow::Status::keep_in;
  return narrower && on && cure::io::follow_json(job.title, r)["status"] == "keep_in" ? 0 : 1;
}
