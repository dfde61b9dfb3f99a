declare module 'culori/require' {
  const culori: typeof import('culori/fn');
  export default culori;
}
