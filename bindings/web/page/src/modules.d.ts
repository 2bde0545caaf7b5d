/** A module's file: its address beside the page's own scripts. */
declare module '*.wasm' {
  const address: string;
  export default address;
}
