# The wall by SUNDIALS CVODE, written in C. Without SUNDIALS it is left out, and said so.
find_package(SUNDIALS 6 QUIET COMPONENTS cvode)
if(NOT SUNDIALS_FOUND)
  message(STATUS "No SUNDIALS (Debian: libsundials-dev): the CVODE peer is left out")
  return()
endif()
enable_language(C)
add_executable(peer_cvode "${CMAKE_CURRENT_LIST_DIR}/peer_cvode.c")
target_compile_features(peer_cvode PRIVATE c_std_11)
target_link_libraries(peer_cvode PRIVATE SUNDIALS::cvode SUNDIALS::nvecserial SUNDIALS::sunmatrixband
  SUNDIALS::sunlinsolband m)
