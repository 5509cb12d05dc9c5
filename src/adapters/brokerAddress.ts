const PORTS: Readonly<Record<string, string>> = { 'mqtt:': '1883', 'mqtts:': '8883' }
const LOOPBACK: ReadonlySet<string> = new Set(['localhost', '127.0.0.1', '[::1]'])

/**
 * Host and port of a broker's URL, the same text for the same broker: `host:1883`. Two names of one host, or two ports
 * of one broker, are not known to be the same.
 * @returns undefined where the text is no URL of a broker
 */
export function brokerAddress(url: string): string | undefined {
  if (!URL.canParse(url)) return undefined
  const { protocol, hostname, port, search, hash } = new URL(url)
  const usual = PORTS[protocol]
  if (usual === undefined || hostname === '' || search !== '' || hash !== '') return undefined
  return loopbackAddress(port === '' ? usual : port, hostname.toLowerCase())
}

/** Address of a broker on this machine. */
export function loopbackAddress(port: number | string, host = '127.0.0.1'): string {
  return `${LOOPBACK.has(host) ? '127.0.0.1' : host}:${port}`
}
