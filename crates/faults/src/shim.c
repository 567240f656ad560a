/* A disk that fails: loaded before the C library, it turns some writes and syncs of some files into errors.
 *
 * DISK_FILES: only files whose path holds this text; DISK_SEED: of the draws; DISK_ONE_IN: one call in so many fails;
 * DISK_NTH: that call alone fails, and where so many never came the file DISK_DONE is made at the end.
 * A failing write is full (ENOSPC), broken (EIO), or writes a part and says so; a failing sync or change of length is broken.
 * Linux only: it asks /proc which file a number is. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static uint64_t state;
static int begun;
static uint64_t calls;

static uint64_t draw(void) {
    pthread_mutex_lock(&lock);
    if (!begun) {
        const char *seed = getenv("DISK_SEED");
        state = seed ? strtoull(seed, 0, 10) : 1;
        begun = 1;
    }
    uint64_t z = (state += 0x9E3779B97F4A7C15u);
    pthread_mutex_unlock(&lock);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

/* Whether this call on this file fails. */
static int fails(int fd) {
    const char *files = getenv("DISK_FILES"), *one_in = getenv("DISK_ONE_IN"), *nth = getenv("DISK_NTH");
    char link[64], path[4096];
    if (!files || !(one_in || nth)) return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t n = readlink(link, path, sizeof path - 1);
    if (n <= 0) return 0;
    path[n] = 0;
    if (!strstr(path, files)) return 0;
    if (nth) return __atomic_add_fetch(&calls, 1, __ATOMIC_SEQ_CST) == strtoull(nth, 0, 10);
    uint64_t of = strtoull(one_in, 0, 10);
    return of && draw() % of == 0;
}

__attribute__((destructor)) static void end(void) {
    const char *nth = getenv("DISK_NTH"), *done = getenv("DISK_DONE");
    if (nth && done && calls < strtoull(nth, 0, 10)) {
        int fd = open(done, O_CREAT | O_WRONLY, 0644);
        if (fd >= 0) close(fd);
    }
}

static int broken(void) { errno = EIO; return -1; }
#define NEXT(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

ssize_t write(int fd, const void *bytes, size_t n) {
    if (n && fails(fd)) switch (draw() % 3) {
        case 0: errno = ENOSPC; return -1;
        case 1: return broken();
        default: if (n > 1) return NEXT(write)(fd, bytes, 1 + draw() % (n - 1));
    }
    return NEXT(write)(fd, bytes, n);
}

ssize_t pwrite(int fd, const void *bytes, size_t n, off_t at) {
    if (n && fails(fd)) switch (draw() % 3) {
        case 0: errno = ENOSPC; return -1;
        case 1: return broken();
        default: if (n > 1) return NEXT(pwrite)(fd, bytes, 1 + draw() % (n - 1), at);
    }
    return NEXT(pwrite)(fd, bytes, n, at);
}

ssize_t pwrite64(int fd, const void *bytes, size_t n, off64_t at) {
    if (n && fails(fd)) switch (draw() % 3) {
        case 0: errno = ENOSPC; return -1;
        case 1: return broken();
        default: if (n > 1) return NEXT(pwrite64)(fd, bytes, 1 + draw() % (n - 1), at);
    }
    return NEXT(pwrite64)(fd, bytes, n, at);
}

int fsync(int fd) { return fails(fd) ? broken() : NEXT(fsync)(fd); }
int fdatasync(int fd) { return fails(fd) ? broken() : NEXT(fdatasync)(fd); }
int ftruncate(int fd, off_t to) { return fails(fd) ? broken() : NEXT(ftruncate)(fd, to); }
int ftruncate64(int fd, off64_t to) { return fails(fd) ? broken() : NEXT(ftruncate64)(fd, to); }
