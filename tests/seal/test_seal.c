// SPDX-License-Identifier: GPL-3.0-or-later
#include "near.h"
#include "seal/seal.h"

#include <dlfcn.h>

static hw_bytes text(const char *at)
{
    return (hw_bytes){(const unsigned char *)at, strlen(at)};
}

static hw_bytes from_hex(hw_test_room *room, const char *hex)
{
    size_t count = strlen(hex) / 2;
    unsigned char *bytes = hw_arena_take(room->into, count + 1, 1);
    assert_true(hw_seal_unhex(hex, bytes, count));
    return (hw_bytes){bytes, count};
}

// draft-irtf-cfrg-xchacha-03, appendix A.3.1 (from memory: Arciszewski 2020; a wrong digit in it
// would not open).
static void test_seal__opens_the_published_vector(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_seal_key key;
    hw_bytes plain;
    for (int i = 0; i < HW_SEAL_KEY; i++) key.bytes[i] = (unsigned char)(0x80 + i);
    hw_bytes identity = from_hex(&room, "50515253c0c1c2c3c4c5c6c7");
    hw_bytes sealed =
        from_hex(&room, "404142434445464748494a4b4c4d4e4f5051525354555657"
                        "bd6d179d3e83d43b9576579493c0e939572a1700252bfaccbed2902c21396cbb"
                        "731c7f1b0b4aa6440bf3a82f4eda7e39ae64c6708c54c216cb96b72e1213b452"
                        "2f8c9ba40db5d945b11b69b982c1bb9e3f3fac2bc369488f76b2383565d3fff9"
                        "21f9664c97637da9768812f615c68b13b52e"
                        "c0875924c1c7987947deafd8780acf49");
    CHECK_OK(&room.job, hw_seal_open(&room.job, &key, identity, sealed, room.into, &plain));
    assert_string_equal(
        "Ladies and Gentlemen of the class of '99: If I could offer you only one tip "
        "for the future, sunscreen would be it.",
        (const char *)plain.at);
    hw_test_close(&room);
}

// What libargon2 takes; its header is not needed to build. Layout: from memory: argon2.h of the
// reference implementation; the check of RFC 9106 below would fail if it were another.
typedef struct argon2_input {
    void *out;
    uint32_t out_count;
    void *password;
    uint32_t password_count;
    void *salt;
    uint32_t salt_count;
    void *secret;
    uint32_t secret_count;
    void *more;
    uint32_t more_count;
    uint32_t passes, memory_KiB, lanes, threads, version;
    void *allocate, *release;
    uint32_t flags;
} argon2_input;

// The oracle is first held against RFC 9106, section 5.3 (Argon2id), then ours against the oracle:
// libsodium takes neither secret nor four lanes, so it cannot do the RFC's example itself.
static void test_key__of_a_passphrase_is_argon2id(void **state)
{
    (void)state;
    void *library = dlopen("libargon2.so.1", RTLD_NOW);
    if (!library) skip();
    int (*hash)(argon2_input *) = NULL;
    *(void **)&hash = dlsym(library, "argon2id_ctx");
    assert_non_null(hash);
    unsigned char out[32], password[32], salt[16], secret[8], more[12];
    char hex[65];
    memset(password, 1, sizeof password), memset(salt, 2, sizeof salt);
    memset(secret, 3, sizeof secret), memset(more, 4, sizeof more);
    argon2_input rfc = {out, 32, password, 32, salt, 16,   secret, 8,    more,
                        12,  3,  32,       4,  1,    0x13, NULL,   NULL, 0};
    assert_int_equal(0, hash(&rfc));
    hw_seal_hex(out, sizeof out, hex);
    assert_string_equal("0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659", hex);

    hw_test_room room = hw_test_open();
    hw_seal_stretch stretch = hw_seal_stretch_new();
    hw_seal_key key;
    char phrase[] = "correct horse battery staple";
    argon2_input ours = {.out = out, .out_count = 32, .password = phrase, .salt = stretch.salt};
    ours.password_count = (uint32_t)strlen(phrase), ours.salt_count = 16;
    ours.passes = stretch.passes, ours.memory_KiB = stretch.memory_KiB;
    ours.lanes = ours.threads = 1, ours.version = 0x13;
    assert_int_equal(0, hash(&ours));
    CHECK_OK(&room.job, hw_seal_key_of(&room.job, phrase, &stretch, &key));
    assert_memory_equal(out, key.bytes, sizeof out);
    assert_true(stretch.memory_KiB >= 47104); // ASVS 5.0's floor: standards.md 7.3
    stretch.memory_KiB = 1u << 30;            // a row that was tampered with
    CHECK_FAILS(&room.job, hw_seal_key_of(&room.job, phrase, &stretch, &key), HW_BAD_INPUT,
                "out of bounds");
    hw_test_close(&room);
    dlclose(library);
}

// Python's hashlib.blake2b(message, key=bytes(range(32)), digest_size=32), which is the BLAKE2
// authors' code: "" and "heelwright" and the parts ("ab", "c") with their lengths before them.
static void test_hash__is_keyed_blake2b_and_parts_do_not_run_together(void **state)
{
    (void)state;
    hw_seal_key key;
    unsigned char out[HW_SEAL_HASH], other[HW_SEAL_HASH];
    char hex[65];
    hw_seal_sum sum;
    for (int i = 0; i < HW_SEAL_KEY; i++) key.bytes[i] = (unsigned char)i;
    hw_seal_sum_begin(&sum, &key);
    hw_seal_sum_end(&sum, out);
    hw_seal_hex(out, sizeof out, hex);
    assert_string_equal("4e51e7a913fc80137da52880fecca175bf81e117d5c68126dc2774033517ea0d", hex);
    hw_seal_sum_begin(&sum, &key);
    hw_seal_sum_add(&sum, "heel", 4);
    hw_seal_sum_add(&sum, "wright", 6);
    hw_seal_sum_end(&sum, out);
    hw_seal_hex(out, sizeof out, hex);
    assert_string_equal("2b03dc5fcabd6a1cff25405bbe41fe5eaea9b8fd9986d36b5a3d48e23abad0f3", hex);
    hw_bytes one[] = {text("ab"), text("c")}, two[] = {text("a"), text("bc")};
    hw_seal_hash(&key, one, 2, out);
    hw_seal_hash(&key, two, 2, other);
    assert_memory_not_equal(out, other, sizeof out);
    hw_seal_hex(out, sizeof out, hex);
    assert_string_equal("ee9c1ef8884408a5503c0192f0793a454251090ca52c8718e872dcb1eb473861", hex);
    hw_seal_key derived = hw_seal_derive(&key, "heelwright");
    hw_seal_hex(derived.bytes, sizeof derived.bytes, hex);
    assert_string_equal("2b03dc5fcabd6a1cff25405bbe41fe5eaea9b8fd9986d36b5a3d48e23abad0f3", hex);
}

static void test_seal__any_change_anywhere_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_seal_key key, other;
    hw_bytes sealed, again, plain;
    hw_seal_random(&key, sizeof key);
    hw_seal_random(&other, sizeof other);
    CHECK_OK(&room.job, hw_seal_close(&room.job, &key, text("visit|7"), text("sore heel"),
                                      room.into, &sealed));
    CHECK_OK(&room.job,
             hw_seal_close(&room.job, &key, text("visit|7"), text("sore heel"), room.into, &again));
    assert_memory_not_equal(sealed.at, again.at, sealed.count); // a fresh nonce each time
    CHECK_OK(&room.job, hw_seal_open(&room.job, &key, text("visit|7"), sealed, room.into, &plain));
    assert_string_equal("sore heel", (const char *)plain.at);
    unsigned char *copy = hw_arena_take(room.into, sealed.count, 1);
    for (size_t bit = 0; bit < 8 * sealed.count; bit++) {
        memcpy(copy, sealed.at, sealed.count);
        copy[bit / 8] ^= (unsigned char)(1 << bit % 8);
        hw_bytes bad = {copy, sealed.count};
        CHECK_FAILS(&room.job,
                    hw_seal_open(&room.job, &key, text("visit|7"), bad, room.into, &plain),
                    HW_BAD_FORMAT, "do not open");
    }
    for (size_t count = 0; count < sealed.count; count++)
        CHECK_FAILS(&room.job,
                    hw_seal_open(&room.job, &key, text("visit|7"), (hw_bytes){sealed.at, count},
                                 room.into, &plain),
                    HW_BAD_FORMAT, "");
    CHECK_FAILS(&room.job,
                hw_seal_open(&room.job, &key, text("visit|8"), sealed, room.into, &plain),
                HW_BAD_FORMAT, "do not open");
    CHECK_FAILS(&room.job,
                hw_seal_open(&room.job, &other, text("visit|7"), sealed, room.into, &plain),
                HW_BAD_FORMAT, "another key");
    hw_test_close(&room);
}

static void test_box__opens_for_its_receiver_only(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_seal_pair mine = hw_seal_pair_new(), other = hw_seal_pair_new();
    hw_bytes sealed, plain;
    CHECK_OK(&room.job, hw_seal_to(&room.job, mine.open, text("a key"), room.into, &sealed));
    CHECK_OK(&room.job, hw_seal_from(&room.job, &mine, sealed, room.into, &plain));
    assert_string_equal("a key", (const char *)plain.at);
    CHECK_FAILS(&room.job, hw_seal_from(&room.job, &other, sealed, room.into, &plain),
                HW_BAD_FORMAT, "another key");
    ((unsigned char *)(uintptr_t)sealed.at)[40] ^= 1;
    CHECK_FAILS(&room.job, hw_seal_from(&room.job, &mine, sealed, room.into, &plain), HW_BAD_FORMAT,
                "changed");
    hw_test_close(&room);
}

// The two key pairs of RFC 7748, section 6.1, and what HSalsa20 makes of their shared secret: the
// `firstkey` of "Cryptography in NaCl" (Bernstein 2009), which other libraries test against too.
static void test_shared__is_the_published_key_from_either_side(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_seal_key one, other;
    const unsigned char none[32] = {0}; // a point all would share a key with
    hw_bytes key =
        from_hex(&room, "1b27556473e985d462cd51197a9a46c76009549eac6474f206c4ee0844f68389");
    hw_bytes alice =
        from_hex(&room, "77076d0a7318a57d3c16c17251b26645df4c2f87ebc0992ab177fba51db92c2a");
    hw_bytes alice_open =
        from_hex(&room, "8520f0098930a754748b7ddcb43ef75a0dbf3a0d26381af4eba4a98eaa9b4e6a");
    hw_bytes bob =
        from_hex(&room, "5dab087e624a8a4b79e17f8b83800ee66f3bb1292618b6fd1c2f8b27ff88e0eb");
    hw_bytes bob_open =
        from_hex(&room, "de9edb7d7b7dc1b4d35b61c2ece435373f8343c85b78674dadfc7e146f882b4f");
    CHECK_OK(&room.job, hw_seal_shared(&room.job, alice.at, bob_open.at, &one));
    CHECK_OK(&room.job, hw_seal_shared(&room.job, bob.at, alice_open.at, &other));
    assert_memory_equal(key.at, one.bytes, HW_SEAL_KEY);
    assert_memory_equal(key.at, other.bytes, HW_SEAL_KEY);
    CHECK_FAILS(&room.job, hw_seal_shared(&room.job, alice.at, none, &one), HW_BAD_INPUT, "none");
    hw_test_close(&room);
}

enum { SIZE = 10, CHUNK = SIZE + HW_SEAL_STREAM_MORE };

static void write_three(const hw_seal_key *key, unsigned char header[HW_SEAL_STREAM_HEADER],
                        unsigned char chunks[3][CHUNK])
{
    hw_seal_stream stream;
    hw_seal_stream_write(&stream, key, header);
    for (int i = 0; i < 3; i++)
        hw_seal_stream_put(&stream, text("f"),
                           (hw_bytes){(const unsigned char *)"0123456789", SIZE}, i == 2,
                           chunks[i]);
}

static hw_status read_in_order(hw_test_room *room, const hw_seal_key *key,
                               const unsigned char header[HW_SEAL_STREAM_HEADER],
                               unsigned char chunks[3][CHUNK], const int order[3])
{
    hw_seal_stream stream;
    unsigned char out[SIZE];
    HW_TRY(hw_seal_stream_read(&room->job, &stream, key, header));
    for (int i = 0; i < 3 && order[i] >= 0; i++)
        HW_TRY(hw_seal_stream_get(&room->job, &stream, text("f"),
                                  (hw_bytes){chunks[order[i]], CHUNK}, out));
    return stream.is_ended ? HW_OK : HW_NO_ANSWER;
}

static void test_stream__opens_in_its_order_to_its_end_only(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_seal_key key, other;
    unsigned char header[HW_SEAL_STREAM_HEADER], chunks[3][CHUNK];
    hw_seal_random(&key, sizeof key);
    hw_seal_random(&other, sizeof other);
    write_three(&key, header, chunks);
    assert_int_equal(HW_OK, read_in_order(&room, &key, header, chunks, (int[]){0, 1, 2}));
    assert_int_equal(HW_BAD_FORMAT, read_in_order(&room, &key, header, chunks, (int[]){1, 0, 2}));
    assert_int_equal(HW_BAD_FORMAT, read_in_order(&room, &key, header, chunks, (int[]){0, 2, 1}));
    assert_int_equal(HW_BAD_FORMAT, read_in_order(&room, &key, header, chunks, (int[]){0, 0, 1}));
    assert_int_equal(HW_NO_ANSWER, read_in_order(&room, &key, header, chunks, (int[]){0, 1, -1}));
    assert_int_equal(HW_BAD_FORMAT, read_in_order(&room, &other, header, chunks, (int[]){0, 1, 2}));
    chunks[1][20] ^= 1;
    assert_int_equal(HW_BAD_FORMAT, read_in_order(&room, &key, header, chunks, (int[]){0, 1, 2}));
    hw_test_close(&room);
}

static void test_password__holds_for_itself_only(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    char hash[HW_SEAL_PASSWORD], again[HW_SEAL_PASSWORD], long_one[HW_SEAL_PASSWORD_MAX + 2];
    CHECK_OK(&room.job, hw_seal_password(&room.job, "quay \xf0\x9f\xa6\xb6 lantern", hash));
    CHECK_OK(&room.job, hw_seal_password(&room.job, "quay \xf0\x9f\xa6\xb6 lantern", again));
    assert_string_not_equal(hash, again); // salted
    assert_non_null(strstr(hash, "$argon2id$v=19$m=65536,t=3,p=1$"));
    assert_true(hw_seal_password_holds(hash, "quay \xf0\x9f\xa6\xb6 lantern"));
    assert_false(hw_seal_password_holds(hash, "quay lantern"));
    assert_false(hw_seal_password_holds("", ""));
    assert_false(hw_seal_password_holds("$argon2id$", "quay"));
    memset(long_one, 'x', sizeof long_one - 1);
    long_one[sizeof long_one - 1] = '\0';
    CHECK_FAILS(&room.job, hw_seal_password(&room.job, long_one, hash), HW_BAD_INPUT, "at most");
    // no cut: a long passphrase differs in its last letter
    long_one[HW_SEAL_PASSWORD_MAX] = '\0';
    CHECK_OK(&room.job, hw_seal_password(&room.job, long_one, hash));
    long_one[HW_SEAL_PASSWORD_MAX - 1] = 'y';
    assert_false(hw_seal_password_holds(hash, long_one));
    hw_test_close(&room);
}

static void test_hex__is_read_exactly(void **state)
{
    (void)state;
    unsigned char bytes[2];
    char id[17], other[17];
    assert_true(hw_seal_unhex("0aFf", bytes, 2));
    assert_int_equal(0x0a, bytes[0]);
    assert_int_equal(0xff, bytes[1]);
    assert_false(hw_seal_unhex("0aF", bytes, 2));
    assert_false(hw_seal_unhex("0aFg", bytes, 2));
    assert_false(hw_seal_unhex("0aFf0", bytes, 2));
    hw_seal_id(id), hw_seal_id(other);
    assert_int_equal(16, strspn(id, "0123456789abcdef"));
    assert_string_not_equal(id, other);
    assert_true(hw_seal_same("abc", "abc", 3) && !hw_seal_same("abc", "abd", 3));
}

static int start(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_status status = hw_seal_start(&room.job);
    hw_test_close(&room);
    return status == HW_OK ? 0 : -1;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_seal__opens_the_published_vector),
        cmocka_unit_test(test_key__of_a_passphrase_is_argon2id),
        cmocka_unit_test(test_hash__is_keyed_blake2b_and_parts_do_not_run_together),
        cmocka_unit_test(test_seal__any_change_anywhere_is_refused),
        cmocka_unit_test(test_box__opens_for_its_receiver_only),
        cmocka_unit_test(test_shared__is_the_published_key_from_either_side),
        cmocka_unit_test(test_stream__opens_in_its_order_to_its_end_only),
        cmocka_unit_test(test_password__holds_for_itself_only),
        cmocka_unit_test(test_hex__is_read_exactly),
    };
    return cmocka_run_group_tests(tests, start, NULL);
}
