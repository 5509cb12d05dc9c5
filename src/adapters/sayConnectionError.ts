/** Where a connection was to lead, as an error names it: never with user or password. */
export interface Target {
  readonly host: string
  readonly port: number
  /** Whether the connection was to be made with TLS. */
  readonly tls: boolean
}

/** What to write to speak the other way, where a target did not understand us: `mqtts://`, `tls: {}`. */
export interface TlsWords {
  readonly withTls: string
  readonly without: string
}

/**
 * One sentence for what Node says of a socket or of TLS: what is wrong, and the next step.
 * @returns undefined where the error is none of the connection's
 */
export function sayConnectionError(error: unknown, target: Target, words: TlsWords): string | undefined {
  const code = codeOf(error)
  if (code === undefined) return undefined
  const say = SENTENCES.get(code)
  return say?.({ ...target, ...words, at: `${target.host}:${String(target.port)}`, names: namesOf(error) })
}

/** Code of an error, or of the one that caused it: clients like to wrap what Node threw. */
function codeOf(error: unknown): string | undefined {
  for (let at = error, depth = 0; typeof at === 'object' && at !== null && depth < 5; depth++) {
    const { code, cause } = at as { code?: unknown; cause?: unknown }
    if (typeof code === 'string' && SENTENCES.has(code)) return code
    at = cause
  }
  return undefined
}

/** Names a certificate is made out to. */
function namesOf(error: unknown): string | undefined {
  const { cert, cause } = error as { cert?: { subjectaltname?: unknown }; cause?: unknown }
  const names = cert?.subjectaltname
  if (typeof names === 'string') return names
  return typeof cause === 'object' && cause !== null ? namesOf(cause) : undefined
}

type Situation = Target & TlsWords & { readonly at: string; readonly names: string | undefined }

const wrongAuthority = ({ at }: Situation) =>
  `${at} shows a certificate of an authority that is not trusted here: put the PEM file of the authority that signed it under tls.ca`
const badClientCertificate = ({ at }: Situation) =>
  `${at} does not accept our certificate: put one that its authority signed, and that has not expired, under tls.cert and tls.key`
const noClientCertificate = ({ at }: Situation) =>
  `${at} asks for a certificate of ours: put one that its authority signed under tls.cert and tls.key`
const withoutTls = ({ at, without }: Situation) =>
  `${at} answers, but not with TLS: write ${without}, or give the port that speaks TLS`
const closed = ({ at, tls, withTls, without }: Situation) =>
  tls
    ? `${at} closed the connection: if it does not speak TLS there, write ${without}; if it asks for a certificate of ours, put that under tls.cert and tls.key`
    : `${at} closed the connection: if it speaks TLS there, write ${withTls}`
const noWay = ({ at }: Situation) =>
  `there is no way to ${at}: check the address, and the network and firewalls between`
const timedOut = ({ at }: Situation) =>
  `${at} did not answer in time: check the address and port, the firewalls between, and that the server is not stuck`
const unknownHost = ({ host }: Situation) =>
  `the host name ${host} is not known: correct it, or add it to the name service of this machine`
const noCommonTls = ({ at }: Situation) =>
  `${at} and this machine have no version or cipher of TLS in common: let the server speak TLS 1.2 or later`
const badPair = () =>
  'the key under tls.key does not belong to the certificate under tls.cert: give the two that were made together'
const badPem = () =>
  'a file under tls is damaged or needs a password: give certificates and keys as PEM without a password'

/**
 * Codes of Node 20's system errors, of its TLS (`ERR_TLS_…`) and of OpenSSL 3 as Node names its errors, alerts and
 * results of verification (openssl-verification-options(1)). `mqtt`, `kafkajs`, `fetch` and `https` all pass them on.
 */
const SENTENCES: ReadonlyMap<string, (situation: Situation) => string> = new Map([
  ['ENOTFOUND', unknownHost],
  ['EAI_AGAIN', unknownHost],
  [
    'ECONNREFUSED',
    ({ at }: Situation) => `nothing listens on ${at}: start the server there, or correct the host or the port`,
  ],
  ['ETIMEDOUT', timedOut],
  ['ESOCKETTIMEDOUT', timedOut],
  ['UND_ERR_CONNECT_TIMEOUT', timedOut],
  ['EHOSTUNREACH', noWay],
  ['ENETUNREACH', noWay],
  ['EADDRNOTAVAIL', noWay],
  ['ECONNRESET', closed],
  ['EPIPE', closed],
  ['UND_ERR_SOCKET', closed],
  ...[
    'SELF_SIGNED_CERT_IN_CHAIN',
    'DEPTH_ZERO_SELF_SIGNED_CERT',
    'UNABLE_TO_VERIFY_LEAF_SIGNATURE',
    'UNABLE_TO_GET_ISSUER_CERT',
    'UNABLE_TO_GET_ISSUER_CERT_LOCALLY',
    'CERT_SIGNATURE_FAILURE',
    'CERT_UNTRUSTED',
    'INVALID_CA',
  ].map(code => [code, wrongAuthority] as const),
  [
    'CERT_HAS_EXPIRED',
    ({ at }) => `the certificate of ${at} has expired: renew it on the server, and check the clock of this machine`,
  ],
  [
    'CERT_NOT_YET_VALID',
    ({ at }) => `the certificate of ${at} is not valid yet: check the clock of this machine and of the server`,
  ],
  ['CERT_REVOKED', ({ at }) => `the certificate of ${at} was revoked: renew it on the server`],
  [
    'ERR_TLS_CERT_ALTNAME_INVALID',
    ({ host, names }) =>
      `the certificate is not made out to ${host}${names === undefined ? '' : ` but to ${names}`}: use a name that stands in it, or have it made out to ${host} too`,
  ],
  ['ERR_SSL_WRONG_VERSION_NUMBER', withoutTls],
  ['ERR_SSL_PACKET_LENGTH_TOO_LONG', withoutTls],
  ['ERR_SSL_HTTP_REQUEST', withoutTls],
  ['EPROTO', withoutTls],
  ['ERR_SSL_UNSUPPORTED_PROTOCOL', noCommonTls],
  ['ERR_SSL_TLSV1_ALERT_PROTOCOL_VERSION', noCommonTls],
  ['ERR_SSL_TLSV13_ALERT_CERTIFICATE_REQUIRED', noClientCertificate],
  // What a server of TLS 1.2 says when no certificate came, and of ciphers it lacks, too.
  ['ERR_SSL_SSLV3_ALERT_HANDSHAKE_FAILURE', noClientCertificate],
  ...[
    'ERR_SSL_TLSV1_ALERT_UNKNOWN_CA',
    'ERR_SSL_SSLV3_ALERT_BAD_CERTIFICATE',
    'ERR_SSL_SSLV3_ALERT_UNSUPPORTED_CERTIFICATE',
    'ERR_SSL_SSLV3_ALERT_CERTIFICATE_REVOKED',
    'ERR_SSL_SSLV3_ALERT_CERTIFICATE_EXPIRED',
    'ERR_SSL_SSLV3_ALERT_CERTIFICATE_UNKNOWN',
    'ERR_SSL_TLSV1_ALERT_ACCESS_DENIED',
    'ERR_SSL_TLSV1_ALERT_DECRYPT_ERROR',
  ].map(code => [code, badClientCertificate] as const),
  ['ERR_OSSL_X509_KEY_VALUES_MISMATCH', badPair],
  ...[
    'ERR_OSSL_BAD_DECRYPT',
    'ERR_OSSL_CRYPTO_INTERRUPTED_OR_CANCELLED',
    'ERR_OSSL_PEM_NO_START_LINE',
    'ERR_OSSL_PEM_BAD_BASE64_DECODE',
    'ERR_OSSL_PEM_BAD_END_LINE',
    'ERR_OSSL_UNSUPPORTED',
  ].map(code => [code, badPem] as const),
])
