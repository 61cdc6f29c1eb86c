/* What a program does to the files of one folder, written down, and made to fail where wanted.

   Preloaded under a real process. Every operation on a file below the folder goes to a log with its
   data, and so does every write to standard output and standard error: so the order of writing,
   syncing and acknowledging is known. One operation, chosen by its number among those of the chosen
   kinds, can fail or end the process. Memory-mapped files are not seen (SQLite's -shm alone).  */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum kind { START, OPEN, WRITE, SYNC, TRUNCATE, UNLINK, RENAME, CLOSE, MKDIR, OUTPUT };
enum fate { FINE, EIO_ONCE, NO_ROOM, SHORT, KILL_BEFORE, KILL_AMID, KILL_AFTER };

#define DESCRIPTORS 1024
#define LONGEST 4096

struct record {
  uint32_t kind, fate;
  int32_t descriptor, error;
  int64_t offset, result;
  uint32_t path_size, data_size;
};

static pthread_mutex_t turn = PTHREAD_MUTEX_INITIALIZER;
static char folder[LONGEST];
static size_t folder_size;
static int log_descriptor = -1;
static pid_t owner;
static unsigned chosen_kinds;
static long chosen_number, seen;
static int chosen_fate, room_is_gone;
static char watched[DESCRIPTORS];

#define REAL(name, type)          \
  static __typeof__(type) real;   \
  if (!real) real = (__typeof__(type))dlsym(RTLD_NEXT, name)

static ssize_t really_write(int descriptor, const void *data, size_t size) {
  REAL("write", ssize_t(*)(int, const void *, size_t));
  return real(descriptor, data, size);
}

static int armed(void) { return log_descriptor >= 0 && owner == getpid(); }

static void note(enum kind kind, int fate, int descriptor, int64_t offset, int64_t result,
                 const char *path, const void *data, size_t size) {
  int error = errno;
  struct record record = {kind, fate, descriptor, result < 0 ? error : 0, offset, result,
                          path ? strlen(path) : 0, size};
  size_t whole = sizeof record + record.path_size + size;
  char *line = malloc(whole);
  if (!line) abort();
  memcpy(line, &record, sizeof record);
  if (path) memcpy(line + sizeof record, path, record.path_size);
  if (size) memcpy(line + sizeof record + record.path_size, data, size);
  if (really_write(log_descriptor, line, whole) != (ssize_t)whole) abort();
  free(line);
  errno = error;
}

/* The path below the folder, made absolute; NULL elsewhere. */
static const char *below(const char *path, char *buffer) {
  if (path[0] != '/') {
    if (!getcwd(buffer, LONGEST)) return NULL;
    if (strlen(buffer) + strlen(path) + 2 > LONGEST) return NULL;
    strcat(buffer, "/");
    strcat(buffer, path);
    path = buffer;
  }
  if (strncmp(path, folder, folder_size)) return NULL;
  if (path[folder_size] == 0) return ".";
  return path[folder_size] == '/' ? path + folder_size + 1 : NULL;
}

/* What is to happen to this operation. */
static int fate_of(enum kind kind) {
  if (kind == WRITE && room_is_gone) return NO_ROOM;
  if (!(chosen_kinds & (1u << kind)) || ++seen != chosen_number) return FINE;
  if (chosen_fate == KILL_BEFORE) kill(getpid(), SIGKILL);
  if (chosen_fate == NO_ROOM || chosen_fate == SHORT) room_is_gone = 1;
  return chosen_fate;
}

static int failed(int fate) {
  if (fate == EIO_ONCE) errno = EIO;
  if (fate == NO_ROOM || fate == SHORT) errno = ENOSPC;
  return fate == EIO_ONCE || fate == NO_ROOM || fate == SHORT;
}

static void ended(int fate) {
  if (fate == KILL_AMID || fate == KILL_AFTER) kill(getpid(), SIGKILL);
}

/* Starts watching; `number` 0 lets everything succeed. Returns 0, or -1 if there is no log. */
int shim_arm(const char *where, const char *log_path, unsigned kinds, long number, int fate) {
  REAL("open", int (*)(const char *, int, ...));
  int descriptor = real(log_path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
  if (descriptor < 0) return -1;
  log_descriptor = fcntl(descriptor, F_DUPFD_CLOEXEC, 900);
  close(descriptor);
  snprintf(folder, sizeof folder, "%s", where);
  folder_size = strlen(folder);
  chosen_kinds = kinds, chosen_number = number, chosen_fate = fate, seen = 0, room_is_gone = 0;
  memset(watched, 0, sizeof watched);
  owner = getpid();
  note(START, 0, 0, 0, 0, NULL, NULL, 0);
  return 0;
}

__attribute__((constructor)) static void arm_from_environment(void) {
  const char *where = getenv("DISK_FOLDER"), *log_path = getenv("DISK_LOG");
  if (!where || !log_path) return;
  const char *kinds = getenv("DISK_KINDS"), *number = getenv("DISK_NUMBER");
  const char *fate = getenv("DISK_FATE");
  if (shim_arm(where, log_path, kinds ? atoi(kinds) : 0, number ? atol(number) : 0,
               fate ? atoi(fate) : 0))
    abort();
  unsetenv("DISK_FOLDER"); /* the program's own children are not watched */
}

static int opened(int (*real)(int, const char *, int, ...), int at, const char *path, int flags,
                  mode_t mode) {
  char buffer[LONGEST];
  const char *name = armed() ? below(path, buffer) : NULL;
  if (!name) return real(at, path, flags, mode);
  pthread_mutex_lock(&turn);
  int fate = fate_of(OPEN);
  int descriptor = failed(fate) ? -1 : real(at, path, flags, mode);
  if (descriptor >= 0 && descriptor < DESCRIPTORS) watched[descriptor] = 1;
  note(OPEN, fate, descriptor, flags, descriptor, name, NULL, 0);
  ended(fate);
  pthread_mutex_unlock(&turn);
  return descriptor;
}

#define MODE_OF(flags)                               \
  mode_t mode = 0;                                   \
  if ((flags) & (O_CREAT | O_TMPFILE)) {             \
    va_list more;                                    \
    va_start(more, flags);                           \
    mode = va_arg(more, mode_t);                     \
    va_end(more);                                    \
  }

int openat(int at, const char *path, int flags, ...) {
  REAL("openat", int (*)(int, const char *, int, ...));
  MODE_OF(flags)
  return opened(real, at, path, flags, mode);
}

int openat64(int at, const char *path, int flags, ...) {
  MODE_OF(flags)
  return openat(at, path, flags, mode);
}

int open(const char *path, int flags, ...) {
  MODE_OF(flags)
  return openat(AT_FDCWD, path, flags, mode);
}

int open64(const char *path, int flags, ...) {
  MODE_OF(flags)
  return openat(AT_FDCWD, path, flags, mode);
}

static int is_watched(int descriptor) {
  return armed() && descriptor >= 0 && descriptor < DESCRIPTORS && watched[descriptor];
}

/* `offset` below 0: where the descriptor stands. */
static ssize_t written(int descriptor, const void *data, size_t size, off64_t offset) {
  REAL("pwrite64", ssize_t(*)(int, const void *, size_t, off64_t));
  int output = armed() && (descriptor == 1 || descriptor == 2) && !watched[descriptor];
  if (!output && !is_watched(descriptor))
    return offset < 0 ? really_write(descriptor, data, size) : real(descriptor, data, size, offset);
  pthread_mutex_lock(&turn);
  int fate = output ? FINE : fate_of(WRITE);
  off64_t at = offset;
  if (offset < 0 && !output) {
    int appends = fcntl(descriptor, F_GETFL) & O_APPEND;
    off64_t stands = lseek64(descriptor, 0, SEEK_CUR);
    at = appends ? lseek64(descriptor, 0, SEEK_END) : stands;
    if (appends) lseek64(descriptor, stands, SEEK_SET);
  }
  ssize_t result = -1;
  if (fate == KILL_AMID || (fate == SHORT && size > 1)) size /= 2;
  if (fate == SHORT || !failed(fate))
    result = offset < 0 ? really_write(descriptor, data, size) : real(descriptor, data, size, offset);
  note(output ? OUTPUT : WRITE, fate, descriptor, at, result, NULL, data, result > 0 ? result : 0);
  ended(fate);
  pthread_mutex_unlock(&turn);
  return result;
}

ssize_t write(int descriptor, const void *data, size_t size) {
  return written(descriptor, data, size, -1);
}

ssize_t pwrite64(int descriptor, const void *data, size_t size, off64_t offset) {
  return written(descriptor, data, size, offset);
}

ssize_t pwrite(int descriptor, const void *data, size_t size, off_t offset) {
  return written(descriptor, data, size, offset);
}

static int synced(int (*real)(int), int descriptor) {
  if (!is_watched(descriptor)) return real(descriptor);
  pthread_mutex_lock(&turn);
  int fate = fate_of(SYNC);
  int result = failed(fate) ? -1 : real(descriptor);
  note(SYNC, fate, descriptor, 0, result, NULL, NULL, 0);
  ended(fate);
  pthread_mutex_unlock(&turn);
  return result;
}

int fsync(int descriptor) {
  REAL("fsync", int (*)(int));
  return synced(real, descriptor);
}

int fdatasync(int descriptor) {
  REAL("fdatasync", int (*)(int));
  return synced(real, descriptor);
}

int ftruncate64(int descriptor, off64_t size) {
  REAL("ftruncate64", int (*)(int, off64_t));
  if (!is_watched(descriptor)) return real(descriptor, size);
  pthread_mutex_lock(&turn);
  int fate = fate_of(TRUNCATE);
  int result = failed(fate) ? -1 : real(descriptor, size);
  note(TRUNCATE, fate, descriptor, size, result, NULL, NULL, 0);
  ended(fate);
  pthread_mutex_unlock(&turn);
  return result;
}

int ftruncate(int descriptor, off_t size) { return ftruncate64(descriptor, size); }

int unlinkat(int at, const char *path, int flags) {
  REAL("unlinkat", int (*)(int, const char *, int));
  char buffer[LONGEST];
  const char *name = armed() && !flags ? below(path, buffer) : NULL;
  if (!name) return real(at, path, flags);
  pthread_mutex_lock(&turn);
  int fate = fate_of(UNLINK);
  int result = failed(fate) ? -1 : real(at, path, flags);
  note(UNLINK, fate, 0, 0, result, name, NULL, 0);
  ended(fate);
  pthread_mutex_unlock(&turn);
  return result;
}

int unlink(const char *path) { return unlinkat(AT_FDCWD, path, 0); }

int rename(const char *old_path, const char *new_path) {
  REAL("rename", int (*)(const char *, const char *));
  char old_buffer[LONGEST], new_buffer[LONGEST];
  const char *old_name = armed() ? below(old_path, old_buffer) : NULL;
  const char *new_name = armed() ? below(new_path, new_buffer) : NULL;
  if (!old_name && !new_name) return real(old_path, new_path);
  pthread_mutex_lock(&turn);
  int fate = fate_of(RENAME);
  int result = failed(fate) ? -1 : real(old_path, new_path);
  note(RENAME, fate, 0, 0, result, old_name, new_name, new_name ? strlen(new_name) : 0);
  ended(fate);
  pthread_mutex_unlock(&turn);
  return result;
}

int mkdir(const char *path, mode_t mode) {
  REAL("mkdir", int (*)(const char *, mode_t));
  char buffer[LONGEST];
  const char *name = armed() ? below(path, buffer) : NULL;
  if (!name) return real(path, mode);
  pthread_mutex_lock(&turn);
  int fate = fate_of(MKDIR);
  int result = failed(fate) ? -1 : real(path, mode);
  note(MKDIR, fate, 0, 0, result, name, NULL, 0);
  ended(fate);
  pthread_mutex_unlock(&turn);
  return result;
}

int close(int descriptor) {
  REAL("close", int (*)(int));
  if (!is_watched(descriptor)) return real(descriptor);
  pthread_mutex_lock(&turn);
  watched[descriptor] = 0;
  int result = real(descriptor);
  note(CLOSE, 0, descriptor, 0, result, NULL, NULL, 0);
  pthread_mutex_unlock(&turn);
  return result;
}
