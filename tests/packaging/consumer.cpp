// What a project that only knows find_package(libcure) can do: compile against the headers and find
// the models.
#include <cmath>
#include <cstdio>
#include <fstream>

#include "cure/error.hpp"
#include "cure/units.hpp"

int main() {
  auto const unit = cure::units::find("kcal/mol", cure::units::Kind::molar_energy);
  if (!unit || std::abs(cure::units::to_si(1.0, *unit) - 4184.0) > 1e-9) {
    std::puts("1 kcal/mol is not 4184 J/mol");
    return 1;
  }
  if (!std::ifstream(MODELS_DIR "/references.bib")) {
    std::puts("no references.bib in " MODELS_DIR);
    return 1;
  }
  return 0;
}
